package parcel

// KIndex returns (T850 − T500) + Td850 − (T700 − Td700) in °C (George 1960, from memory).
// Temperatures and dew points in °C.
func KIndex(t850, td850, t700, td700, t500 float64) float64 {
	return (t850 - t500) + td850 - (t700 - td700)
}

// VerticalTotals returns T850 − T500 in K (Miller 1967, from memory).
func VerticalTotals(t850, t500 float64) float64 { return t850 - t500 }

// CrossTotals returns Td850 − T500 in K (Miller 1967, from memory).
func CrossTotals(td850, t500 float64) float64 { return td850 - t500 }

// TotalTotals returns T850 + Td850 − 2 T500 in K (Miller 1967, from memory).
func TotalTotals(t850, td850, t500 float64) float64 { return t850 + td850 - 2*t500 }

// Lifted returns the temperature of the air minus that of the parcel, lifted
// pseudo-adiabatically, at p hPa where the air has t K: the lifted index with a parcel
// of the lowest layer (Galway 1956, from memory) at 500 hPa, the Showalter index
// (Showalter 1953, from memory) with one from 850 hPa. a must have been lifted to p or
// above.
func (a *Ascent) Lifted(lnp, t float64) float64 {
	parcel, _ := a.At(lnp)
	return t - parcel
}
