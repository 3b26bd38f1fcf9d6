package correct

func (f *flight) twinHumidity() {}
