package suggest

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// satelliteHeight: heights above the ellipsoid are called heights above mean sea level,
// or the receiver is off by a constant.
func (f *facts) satelliteHeight(w *world) []hypothesis {
	site := w.record.Site.Height.Value()
	if math.IsNaN(f.msl + site) {
		return nil
	}
	d := f.msl - w.height - site
	var out []hypothesis
	if n := w.record.Site.Undulation.Value(); math.Abs(n) > 10 {
		out = append(out, hypothesis{name: SatelliteHeightDatum, price: priceUnit,
			sentence:  fmt.Sprintf("satellite height at rest is %.0f m, %+.0f m from the release point: that is the geoid's undulation of %.1f m, so the heights stand above the ellipsoid; the path anchors them at the release point", f.msl, d, n),
			change:    func(w *world) { w.height += n },
			decisions: f.settle(fmt.Sprintf("heights stand above the ellipsoid: the offset of %.0f m is the undulation", d), quality.BarometerHeight, quality.Baseline, quality.LaunchRecord)})
	}
	if math.Abs(d) > 2*f.usualHeight {
		decisions := f.settle(fmt.Sprintf("satellite height is off by a constant %+.0f m", d), quality.BarometerHeight, quality.Baseline, quality.LaunchRecord)
		what := "the path takes it off at the release point"
		if math.Abs(d) > f.anchorLimit() && f.barometer {
			decisions = []sounding.Decision{f.over(sounding.ActExclude, "", fmt.Sprintf("satellite height is off by a constant %+.0f m: heights from the barometer", d), sounding.HeightMSL, sounding.HeightEllipsoid)}
			what = "withhold satellite height, so that heights come from the barometer"
		}
		out = append(out, hypothesis{name: SatelliteHeightOffset, price: priceReceiver,
			sentence:  fmt.Sprintf("satellite height at rest is %.0f m, %+.0f m from the release point, and may be off by that all the way: %s", f.msl, d, what),
			change:    func(w *world) { w.height += d; w.ellipsoid += d },
			decisions: decisions})
	}
	return out
}

func (f *facts) anchorLimit() float64 {
	if f.o.Settings != nil {
		return f.o.Settings.Correct.Height.AnchorLimit
	}
	return 30
}

// over is a decision on variables over all rows that have any of them.
func (f *facts) over(action sounding.Action, value, reason string, list ...sounding.Variable) sounding.Decision {
	return f.spanned(action, value, reason, sounding.Span{From: 0, To: f.raw.Len()}, list...)
}

// spanned is a decision on variables over a run of rows; variables the flight does not
// have are left out.
func (f *facts) spanned(action sounding.Action, value, reason string, s sounding.Span, list ...sounding.Variable) sounding.Decision {
	d := sounding.Decision{Action: action, Value: value, Reason: reason}
	for _, v := range list {
		if f.raw.Get(v) != nil {
			d.Variables = append(d.Variables, v)
		}
	}
	if s.Len() > 0 {
		d.From, d.To = f.instant(s.From), f.instant(s.To-1)
	}
	return d
}

// settle accepts every open finding of some checks that asks for a look, for an error
// that the path already puts right.
func (f *facts) settle(reason string, checks ...quality.Check) []sounding.Decision {
	var out []sounding.Decision
	for _, x := range f.final.Findings {
		if x.Severity == sounding.Note || x.State != "" {
			continue
		}
		height := x.Variable == sounding.HeightMSL || x.Variable == sounding.Pressure || x.Variable == sounding.NoVariable && (x.Field == "site.height_m_msl" || x.Field == "surface.pressure_hpa" || x.Field == "")
		for _, c := range checks {
			if x.Check == c && height {
				out = append(out, sounding.Decision{Action: sounding.ActAccept, Field: x.ID, Reason: reason})
				break
			}
		}
	}
	if len(out) == 0 {
		out = append(out, sounding.Decision{Action: sounding.ActNote, Reason: reason})
	}
	return out
}
