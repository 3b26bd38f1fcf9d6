// Package plot draws charts as SVG texts: profiles on a shared vertical axis, the skewed
// thermodynamic diagram with wind barbs, the hodograph, the track map. It knows columns
// of numbers and nothing about flights, files or pages; the lines of the thermodynamic
// diagram come from package parcel.
//
// Coordinates are user units of the SVG, y downwards, rounded to a tenth. Colours are
// classes, so that a page's style sheet decides (see Style): t temperature, td dew point
// and merged humidity, ha and hb the two humidity sensors, wd wind, ink heights and
// pressure, raw as received.
//
// Curves are thinned so that at most four points fall on one row of pixels, the least and
// the greatest among them: a spike of one sample stays visible.
package plot
