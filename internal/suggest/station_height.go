package suggest

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

var siteHeights = []string{"site.height_m_msl", "site.barometer_height_m_msl", "site.antenna_height_m_msl", "site.thermometer_height_m_msl"}

// stationHeight: the height of the release point is wrong, alone or with the other
// heights of the site, which are usually typed from one.
func (f *facts) stationHeight(w *world) []hypothesis {
	z := w.record.Site.Height.Value()
	got := f.msl - w.height
	if math.IsNaN(got) {
		got = f.ellipsoid - w.ellipsoid - w.record.Site.Undulation.Value()
	}
	if math.IsNaN(z + got) {
		return nil
	}
	var out []hypothesis
	add := func(name string, value, price float64, words string) {
		alone := []sounding.Decision{correct(siteHeights[0], decimal(value, 1), words)}
		sentence := fmt.Sprintf("the release point is given at %s m and the radiosonde stood at %.0f m before release; %s: %s m", decimal(z, 1), got, words, decimal(value, 1))
		out = append(out, hypothesis{name: name, price: price + 1, kind: siteHeights[0], value: value, near: 2 * f.usualHeight, sentence: sentence, decisions: alone,
			change: func(w *world) { w.record.Site.Height = sounding.Number(value) }})
		// All heights of the site moved together.
		all := heightsMoved(&w.record, value-z, words)
		if len(all) > 1 {
			out = append(out, hypothesis{name: name, price: price, kind: siteHeights[0], value: value, near: 2 * f.usualHeight, sentence: sentence + ", and the other heights of the site by as much", decisions: all,
				change: func(w *world) { moveHeights(&w.record, value-z) }})
		}
	}
	// At a low station feet and metres differ by little: any error near that looks so.
	unit := priceUnit
	if math.Abs(z) < 200 {
		unit = priceUnknown + 0.5
	}
	add(StationHeightUnit, round(z*0.3048, 1), unit, "it looks given in feet")
	add(StationHeightUnit, round(z/0.3048, 1), unit+2, "it looks converted from feet twice")
	if math.Abs(z) > 200 {
		add(StationHeightWrong, z/10, priceDigit, "the decimal point is misplaced")
		add(StationHeightWrong, z*10, priceDigit, "the decimal point is misplaced")
		add(StationHeightWrong, -z, priceDigit, "the sign is wrong")
	}
	if d := got - z; math.Abs(d) > 2*f.usualHeight {
		add(StationHeightWrong, math.Round(got), priceUnknown, fmt.Sprintf("a satellite height off by as much looks the same in one flight, and another flight of the site tells the two apart; the surveyed height is wanted, which the satellites put (± %.0f m) at", f.usualHeight))
	}
	return out
}

// moveHeights adds d m to every height of the site that is given.
func moveHeights(r *sounding.LaunchRecord, d float64) {
	for _, path := range siteHeights {
		field, _ := sounding.FieldByPath(path)
		if n := field.Number(r); n.Set() {
			*n = sounding.Number(round(n.Value()+d, 1))
		}
	}
}

func heightsMoved(r *sounding.LaunchRecord, d float64, reason string) []sounding.Decision {
	var out []sounding.Decision
	for _, path := range siteHeights {
		field, _ := sounding.FieldByPath(path)
		if n := field.Number(r); n.Set() {
			out = append(out, correct(path, decimal(n.Value()+d, 1), reason))
		}
	}
	return out
}
