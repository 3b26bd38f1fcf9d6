// Package message maps flights to the open upper-air codes: a final flight becomes a
// FM 94 BUFR message (3 09 052, 3 09 053, 3 09 055, 3 09 056, 3 09 057) or Parts A to D
// of FM 35 TEMP; messages and bulletins are shown as soundings or element by element.
//
// The codes themselves are in packages bufr and temp, reading them as sources of the
// path in package ingest. Here is what stands between: which levels go into a report,
// with which significance, and where each item of the launch record and the instrument
// sheet belongs. Rules and what they rest on: docs/methods/messages.md.
//
// Nothing here reads a clock or a file, and the same flight gives the same bytes.
package message
