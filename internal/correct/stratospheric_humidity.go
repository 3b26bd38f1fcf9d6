package correct

func (f *flight) stratosphericHumidity() {}
