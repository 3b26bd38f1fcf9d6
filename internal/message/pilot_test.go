package message_test

import (
	"bytes"
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"leadline/internal/earth"
	"leadline/internal/ingest"
	"leadline/internal/levels"
	"leadline/internal/message"
	"leadline/internal/sounding"
	"leadline/internal/temp"
	"leadline/internal/workbench"
)

// pilotReports reads back what was written, in the order A to D.
func pilotReports(t *testing.T, m message.Encoded) map[temp.Part]temp.Report {
	t.Helper()
	parts := map[temp.Part]temp.Report{}
	for _, b := range temp.Parse(m.Bytes) {
		if b.FindingCount > 0 {
			t.Errorf("bulletin: %v", b.Findings)
		}
		for _, r := range b.Reports {
			if r.FindingCount > 0 {
				t.Errorf("part %v: %v\n%s", r.Part, r.Findings, m.Bytes)
			}
			parts[r.Part] = r
		}
	}
	return parts
}

// withoutPressure is the flight as a wind-only sounding: heights and winds.
func withoutPressure(o *workbench.Outcome) *workbench.Outcome {
	c := *o
	f := *o.Final
	f.Series = slices.DeleteFunc(slices.Clone(f.Series), func(s sounding.Series) bool {
		return s.Variable == sounding.Pressure || s.Variable == sounding.Temperature || s.Variable == sounding.Humidity || s.Variable == sounding.DewPoint
	})
	c.Final = &f
	c.Levels, _ = levels.Find(&f, levels.Default())
	return &c
}

// A flight written as PILOT and read back gives its winds to the steps of the code, and
// the significant winds that were sent rebuild the wind of every sample: 10° and 5 m/s of
// regulation 32.3.1 plus half a step of the code at both ends (2.5°, 0.5 units) and what
// moving a level by half a step of its altitude or pressure does.
func TestPILOTReadBack(t *testing.T) {
	for _, c := range []struct {
		kind, station, vertical string
		fixed                   int
		pressure                bool
		unit                    temp.Unit
		form                    temp.Form
	}{
		{"fixed", "06601", "", 0, true, temp.MetersASecond, temp.PilotLand},
		{"fixed", "06601", message.ByAltitude, 500, true, temp.Knots, temp.PilotLand},
		{"ship", "LAKE1", message.ByPressure, 300, true, temp.Knots, temp.PilotShip},
		{"mobile", "LAKE2", "", 300, false, temp.MetersASecond, temp.PilotMobile},
	} {
		o := withSite(t, func(s *sounding.Site) {
			s.Kind = c.kind
			if c.kind != "fixed" {
				s.CallSign, s.WMONumber = c.station, ""
			}
		})
		if !c.pressure {
			o = withoutPressure(o)
		}
		m := encode(t, o, message.Options{Template: message.PILOT, WindUnit: c.unit, Vertical: c.vertical, FixedAltitudes: c.fixed})
		parts := pilotReports(t, m)
		if len(parts) != 4 {
			t.Fatalf("%s: %d parts\n%s", c.kind, len(parts), m.Bytes)
		}
		byAltitude := c.vertical == message.ByAltitude || !c.pressure
		var significant []temp.Level
		counts := map[temp.Kind]int{}
		for _, part := range []temp.Part{'A', 'B', 'C', 'D'} {
			r := parts[part]
			if r.Form != c.form || r.Station != c.station || r.WindUnit != c.unit || r.Indicator != '8' {
				t.Errorf("%s: %v of %q in %v, figure %c", c.kind, r.Form, r.Station, r.WindUnit, r.Indicator)
			}
			for _, l := range r.Levels {
				counts[l.Kind]++
				if l.Kind == temp.SignificantWind && !l.Gap {
					significant = append(significant, l)
				}
				if l.Kind == temp.Standard && l.Approximate == c.pressure {
					t.Errorf("%s: standard level %v hPa approximate: %v", c.kind, l.PressureHPa, l.Approximate)
				}
			}
		}
		if counts[temp.Standard] < 10 || (counts[temp.FixedAltitude] > 0) != (c.fixed > 0) || len(significant) < 5 || counts[temp.MaximumWind]+counts[temp.MaximumWindAtTop] != m.MaximumWinds {
			t.Errorf("%s: levels %v, %d maximum winds\n%s", c.kind, counts, m.MaximumWinds, m.Bytes)
		}
		// The wind of a fixed altitude against the samples on both sides of it.
		f := o.Final
		z, u, v := f.Get(sounding.GeopotentialHeight).Values, f.Get(sounding.WindU).Values, f.Get(sounding.WindV).Values
		for _, part := range []temp.Part{'B', 'D'} {
			for _, l := range parts[part].Levels {
				if l.Kind != temp.FixedAltitude {
					continue
				}
				k := slices.IndexFunc(z, func(x float64) bool { return x >= l.HeightGpm })
				speed, direction := earth.WindFromUV(u[k], v[k])
				if math.Abs(c.unit.MetersASecond(l.WindSpeed)-speed) > 0.5+0.3 || speed > 2 && math.Abs(math.Remainder(l.WindDirectionDegrees-direction, 360)) > 2.5+2 {
					t.Errorf("%s: %v gpm: %v° %v %v, samples %.1f° %.2f m/s", c.kind, l.HeightGpm, l.WindDirectionDegrees, l.WindSpeed, c.unit, direction, speed)
				}
			}
		}
		// Reconstruction of every sample.
		up := func(l temp.Level) float64 {
			if byAltitude {
				return l.HeightGpm
			}
			return -math.Log(l.PressureHPa)
		}
		at := z
		if !byAltitude {
			at = make([]float64, len(z))
			for i, p := range f.Get(sounding.Pressure).Values {
				at[i] = -math.Log(p)
			}
		}
		span := f.Events.Ascent()
		covered := 0
		var last float64
		for i := span.From; i < span.To; i++ {
			if i > span.From && !(at[i] > last) || math.IsNaN(u[i]+v[i]) {
				continue
			}
			last = at[i]
			k := slices.IndexFunc(significant, func(l temp.Level) bool { return up(l) >= at[i] })
			if k < 1 {
				continue
			}
			a, b := significant[k-1], significant[k]
			w := (at[i] - up(a)) / (up(b) - up(a))
			speed, direction := earth.WindFromUV(u[i], v[i])
			coded := c.unit.MetersASecond(a.WindSpeed*(1-w) + b.WindSpeed*w)
			if off := math.Abs(speed - coded); off > 5+0.5+0.3 {
				t.Errorf("%s: %.0f gpm: speed %.2f m/s off", c.kind, z[i], off)
				break
			}
			turn := math.Remainder(b.WindDirectionDegrees-a.WindDirectionDegrees, 360)
			if off := math.Abs(math.Remainder(a.WindDirectionDegrees+turn*w-direction, 360)); a.WindSpeed > 0 && b.WindSpeed > 0 && off > 10+2.5+2 {
				t.Errorf("%s: %.0f gpm: direction %.1f° off", c.kind, z[i], off)
				break
			}
			covered++
		}
		if covered < span.Len()*8/10 {
			t.Errorf("%s: %d of %d samples reached", c.kind, covered, span.Len())
		}
		// As a source.
		recipe, _, _ := ingest.ShippedRecipe("temp")
		raws, err := ingest.ReadAll(context.Background(), "x.txt", bytes.NewReader(m.Bytes), recipe, ingest.Options{Date: f.Epoch})
		if err != nil || len(raws) != 1 || raws[0].Len() < len(significant) {
			t.Errorf("%s: %d soundings, %v", c.kind, len(raws), err)
		}
	}
}

// Bulletins have the letters of PILOT, a report up to 100 hPa has Parts A and B only, and
// what cannot be done is refused.
func TestPILOTHeadingsAndRefusals(t *testing.T) {
	o := flown(t)
	m := encode(t, o, message.Options{Template: message.PILOT, Upto: 100, Vertical: message.ByAltitude, FixedAltitudes: 300, Heading: &temp.Heading{Designator: "XX01", Centre: "LAKE"}})
	var got []string
	for _, b := range temp.Parse(m.Bytes) {
		for _, r := range b.Reports {
			got = append(got, b.Heading.Designator+" "+r.Part.String())
		}
	}
	if s := strings.Join(got, ", "); s != "UPXX01 A, UGXX01 B" {
		t.Errorf("bulletins %s", s)
	}
	for _, c := range []struct {
		o    *workbench.Outcome
		set  message.Options
		want string
	}{
		{withoutPressure(o), message.Options{Vertical: message.ByPressure}, "report them by altitude"},
		{o, message.Options{Vertical: "feet"}, "want pressure or altitude"},
		{o, message.Options{FixedAltitudes: 250}, "steps of 300 m and of 500 m"},
	} {
		c.set.Template = message.PILOT
		if _, err := message.Encode(c.o.Final, c.o.Levels, c.set); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("want an error with %q: %v", c.want, err)
		}
	}
}
