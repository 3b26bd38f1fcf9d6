// Package follow watches a flight while it flies. Bytes come from a growing file, standard
// input, a TCP stream or UDP lines; each is in a journal on disk before anything else is
// done with it. At any time the flight's outcome is what workbench makes of the journal's
// bytes, by the same code that reads the file after the flight: nothing is computed twice
// in two ways, and nothing of the outcome is kept between two computations.
//
// Around that outcome a Session keeps what only matters while it flies: the age of the
// data, the expected burst and landing, alarms with the time they began and ended, the
// first message when its level is passed, and the end of the flight, when the journal's
// bytes go into the logbook.
package follow
