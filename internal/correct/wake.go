package correct

// wake is where spikes from the balloon's wake and the radiosonde's body are taken
// out of the temperature (docs/methods/wake.md).
func (f *flight) wake() {}
