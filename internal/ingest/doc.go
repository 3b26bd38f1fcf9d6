// Package ingest turns the bytes of a source into Raw: columns in leadline's units
// with the source line of each row, what the source says about the launch, and
// findings about everything that could not be read or did not stand in order.
//
// A Recipe describes one kind of source. Text is read by its columns, netCDF by
// names and attributes, archive files by their published columns. Rows that do not
// parse never stop a source and are never silently skipped; a source without a
// single usable row is refused with the reason. Nothing is corrected here but
// order: late rows are put into place and a jumped clock is undone, both with a
// finding and with the source's own times kept.
//
// Bounds: lines of 1 MiB, 1 GiB after unpacking, 2,000,000 rows, 512 columns,
// 32 million values, 256 soundings a source. Where one is passed the source is refused.
package ingest
