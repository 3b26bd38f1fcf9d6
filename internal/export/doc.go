// Package export writes a final flight for others: netCDF with CF and ACDD attributes,
// CSV, and a JSON report; the same for levels and for regular grids.
//
// Everything but Write is a pure function to an io.Writer: no clock, no file. The same
// flight gives the same bytes.
//
// What is lossless: netCDF holds every value as the float64 it is inside leadline, in
// leadline's units (hPa, K, %, m s-1, degree, m), so that reading back needs no
// conversion and gives the same bits. CSV rounds to fixed decimals that are at most a
// thousandth of what instruments resolve (see Decimals). JSON numbers are the shortest
// decimals that read back the same.
package export
