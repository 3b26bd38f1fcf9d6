// Package igra reads the fixed-column text files of the Integrated Global
// Radiosonde Archive, version 2: the main layout (one file a station, one header
// and its levels a sounding) and the derived layout (levels with calculated
// quantities, header with indices).
//
// It turns bytes into columns and judges nothing. Both readers stream: one
// sounding is in memory at a time, however long the file. Plain or CRLF line
// ends are accepted; decompression is the caller's.
//
// # Missing, removed, unreadable
//
// The archive tells two kinds of absent value apart: -9999, never there, and
// -8888, there originally and removed by the archive's quality assurance. In
// memory both are NaN; [Column.Marks] keeps the difference. A field that is no
// number at all is NaN too, marked [Unreadable], and listed in the sounding's
// Problems.
//
// # Errors
//
// A sounding whose header is broken, whose lines are cut short or which has
// fewer levels than its header promises is not returned in part: Next gives a
// [RecordError] with the line, and the following call goes on with the next
// header. Soundings before and after it stay readable.
//
// Source of the columns: igra2-data-format.txt as copied in August 2016, checked
// against real files. The meaning of the special values and the derived layout
// are from memory; the derived columns and units are confirmed by recomputing
// gradients and conversions from a real file (see the tests).
package igra
