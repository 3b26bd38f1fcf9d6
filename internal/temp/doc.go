// Package temp reads and writes upper-air reports in the WMO's figure codes:
// FM 35 TEMP, FM 36 TEMP SHIP, FM 37 TEMP DROP and FM 38 TEMP MOBIL, FM 32, FM 33
// and FM 34 PILOT (all read; all but DROP written), with the bulletin headings and
// file names they travel under.
//
// It turns groups into values and back and judges nothing: no level is chosen
// here and no value checked against another, except where the code itself is
// redundant (wind indicator figure, Marsden square, order of levels).
//
// # Reading
//
// [Parse] and [Reader] keep what is readable. A group that is garbled, missing or
// out of place becomes a [Finding] with line, column and the group as it stands;
// its value stays NaN. Regional and national groups are kept as text.
//
// # Writing
//
// [Encode] writes Parts A to D of one report by the coding rules. Values that the
// code cannot carry are an error that names level and value; nothing is cut to fit.
//
// # What the rules rest on
//
// Most of the code's rules are from memory of the WMO Manual on Codes, volume
// I.1, Part A; docs/methods/temp-code.md says which, and which of them real
// bulletins confirm.
package temp
