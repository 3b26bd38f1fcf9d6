package export

// Files returns the files the format is made of, for a caller that writes them itself,
// such as a server.
func (f Format) Files(flight *Flight) []File { return f.files(flight) }
