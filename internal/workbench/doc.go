// Package workbench runs the data path for one flight and keeps what people decide
// about it. The command line and the web server call the same methods here, so what
// a screen shows and what a script does cannot differ.
//
// Run is the path as a pure function:
//
//	sources, recipe ─ingest→ Raw ─events→ ─check→ Checked ─correct, wind→ Corrected ─check again→ Final ─levels→ products
//
// with the launch record, the instrument sheet, the settings and the decisions as its
// other inputs. The same inputs give the same outcome, byte for byte; taking a
// decision back is running again without it.
package workbench

// Version is the version of the program: the one place that states it.
const Version = "0.1.0"
