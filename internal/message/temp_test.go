package message_test

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/levels"
	"leadline/internal/message"
	"leadline/internal/sounding"
	"leadline/internal/temp"
	"leadline/internal/workbench"
)

// coded values of FM 35 (STANDARDS B.3): temperatures in tenths cut to even ones with the
// sign in the last figure, depressions in tenths to 5 K and whole kelvins above, winds in
// steps of 5 degrees and one unit.
func codedCelsius(t float64) float64 {
	tenths := math.Round(math.Abs(t) * 10)
	tenths -= math.Mod(tenths, 2)
	if t < 0 && math.Round(math.Abs(t)*10) > 0 {
		return -(tenths + 1) / 10
	}
	return tenths / 10
}

func codedDepression(d float64) float64 {
	if tenths := math.Round(d * 10); tenths <= 50 {
		return math.Max(0, tenths/10)
	}
	return math.Min(math.Max(math.Round(d), 5), 49)
}

func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) < 1e-6
}

func withSite(t *testing.T, change func(*sounding.Site)) *workbench.Outcome {
	t.Helper()
	o := *flown(t)
	f := *o.Final
	r := f.Record.Clone()
	change(&r.Site)
	f.Record = r
	o.Final = &f
	return &o
}

// A flight written as TEMP and read back gives the coded values of its levels, for a
// fixed station, a ship and a mobile station, in both wind units.
func TestTEMPReadBack(t *testing.T) {
	for _, c := range []struct {
		kind, station string
		unit          temp.Unit
		form          temp.Form
	}{{"fixed", "06601", temp.MetersASecond, temp.Land}, {"fixed", "06601", temp.Knots, temp.Land}, {"ship", "LAKE1", temp.Knots, temp.Ship}, {"mobile", "LAKE2", temp.MetersASecond, temp.Mobile}} {
		o := withSite(t, func(s *sounding.Site) {
			s.Kind = c.kind
			if c.kind != "fixed" {
				s.CallSign, s.WMONumber = c.station, ""
			}
		})
		m := encode(t, o, message.Options{Template: message.TEMP, WindUnit: c.unit})
		parts := map[temp.Part]temp.Report{}
		for _, b := range temp.Parse(m.Bytes) {
			for _, r := range b.Reports {
				if r.Form != c.form || r.Station != c.station || len(r.Findings) > 0 || r.WindUnit != c.unit {
					t.Errorf("%s: %v of %q, findings %v", c.kind, r.Form, r.Station, r.Findings)
				}
				parts[r.Part] = r
			}
		}
		if len(parts) != 4 {
			t.Fatalf("%s: %d parts", c.kind, len(parts))
		}
		if s := parts['A'].System; s == nil || s.LaunchHour != o.Final.Epoch.Round(time.Minute).Hour() || s.Tracking != 8 || s.RadiationCorrection != 6 || s.SondeType != -1 || math.Abs(s.SeaTemperatureCelsius-4.5) > 1e-9 {
			t.Errorf("%s: 31313 %+v", c.kind, s)
		}
		if cloud := parts['B'].Cloud; len(cloud) == 0 || cloud[0] != "52531" {
			t.Errorf("%s: cloud %v", c.kind, cloud)
		}
		if parts['B'].Indicator != '8' { // satellite navigation in table 0265
			t.Errorf("%s: wind equipment %c", c.kind, parts['B'].Indicator)
		}
		find := func(kind temp.Kind, p float64) *temp.Level {
			for _, r := range parts {
				for i := range r.Levels {
					l := &r.Levels[i]
					step := 1.0
					if p < 99.95 {
						step = 0.1
					}
					if l.Kind == kind && math.Abs(l.PressureHPa-math.Round(p/step)*step) < step/100 {
						return l
					}
				}
			}
			return nil
		}
		checked := 0
		for i := range o.Levels.Levels {
			l := &o.Levels.Levels[i]
			p := l.Pressure.Value()
			for _, k := range []struct {
				kind      levels.Kind
				coded     temp.Kind
				t, w, hgt bool
			}{{levels.Surface, temp.Surface, true, true, false}, {levels.Standard, temp.Standard, true, true, true}, {levels.Tropopause, temp.Tropopause, true, true, false},
				{levels.SignificantTemperature, temp.SignificantTemperature, true, false, false}, {levels.SignificantWind, temp.SignificantWind, false, true, false}} {
				if !l.Kind.Has(k.kind) || k.kind == levels.Standard && p < 10 {
					continue
				}
				got := find(k.coded, p)
				if got == nil {
					left := false
					for _, f := range m.Findings {
						left = left || strings.Contains(f.Sentence, "are left out")
					}
					if !left {
						t.Errorf("%s: %v level at %v hPa is not in the bulletin", c.kind, k.coded, p)
					}
					continue
				}
				if k.t {
					want := l.Temperature.Value() - 273.15
					if !same(got.TemperatureCelsius, codedCelsius(want)) {
						t.Errorf("%s: %v at %v hPa: %v °C, want %v for %v", c.kind, k.coded, p, got.TemperatureCelsius, codedCelsius(want), want)
					}
					if d := l.Temperature.Value() - l.DewPoint.Value(); !math.IsNaN(d) && !same(got.DewPointDepression, codedDepression(d)) {
						t.Errorf("%s: %v at %v hPa: depression %v K, want %v for %v", c.kind, k.coded, p, got.DewPointDepression, codedDepression(d), d)
					}
				}
				if k.w && l.Speed.Set() {
					speed := math.Round(c.unit.FromMetersASecond(l.Speed.Value()))
					if !same(got.WindSpeed, speed) {
						t.Errorf("%s: %v at %v hPa: %v %v, want %v", c.kind, k.coded, p, got.WindSpeed, c.unit, speed)
					}
					if speed > 0 && math.Abs(math.Remainder(got.WindDirectionDegrees-l.Direction.Value(), 360)) > 2.50001 {
						t.Errorf("%s: %v at %v hPa: from %v, want %v", c.kind, k.coded, p, got.WindDirectionDegrees, l.Direction)
					}
				}
				if k.hgt {
					unit := 1.0
					if p <= 500 {
						unit = 10
					}
					if !same(got.HeightGpm, math.Round(l.Geopotential.Value()/unit)*unit) {
						t.Errorf("%s: %v hPa: %v gpm, want %v", c.kind, p, got.HeightGpm, l.Geopotential)
					}
				}
				checked++
			}
		}
		if checked < 50 {
			t.Errorf("%s: only %d levels checked", c.kind, checked)
		}
		// As a source: one sounding with the station and the launch to the minute.
		recipe, _, _ := ingest.ShippedRecipe("temp")
		raws, err := ingest.ReadAll(context.Background(), "x.txt", bytes.NewReader(m.Bytes), recipe, ingest.Options{Date: o.Final.Epoch})
		if err != nil || len(raws) != 1 {
			t.Fatalf("%s: %d soundings, %v", c.kind, len(raws), err)
		}
		if d := raws[0].Record.Release.Declared.Sub(o.Final.Epoch); d.Abs() > 31*time.Second {
			t.Errorf("%s: launch off by %v", c.kind, d)
		}
	}
}

// Bulletins under headings: each part has its letters, and a report up to 100 hPa has
// Parts A and B only.
func TestTEMPHeadings(t *testing.T) {
	o := flown(t)
	m := encode(t, o, message.Options{Template: message.TEMP, Upto: 100, Correction: 1, Heading: &temp.Heading{Designator: "XX01", Centre: "LAKE"}})
	var got []string
	for _, b := range temp.Parse(m.Bytes) {
		for _, r := range b.Reports {
			got = append(got, b.Heading.Designator+" "+b.Heading.Sequel+" "+r.Part.String())
		}
	}
	if s := strings.Join(got, ", "); s != "USXX01 CCA A, UKXX01 CCA B" {
		t.Errorf("bulletins %s", s)
	}
}

// A gap of the wind is a gap of the code: nn/// /////.
func TestTEMPGap(t *testing.T) {
	o := flown(t)
	set := levels.Set{Levels: append([]levels.Level(nil), o.Levels.Levels...)}
	k := 0
	for i := range set.Levels {
		if l := &set.Levels[i]; l.Kind.Has(levels.SignificantWind) && l.Pressure < 700 && k < 2 {
			l.Kind |= []levels.Kind{levels.MissingWindBegins, levels.MissingWindEnds}[k]
			k++
		}
	}
	m, err := message.Encode(o.Final, set, message.Options{Template: message.TEMP})
	if err != nil {
		t.Fatal(err)
	}
	gaps := 0
	for _, b := range temp.Parse(m.Bytes) {
		for _, r := range b.Reports {
			for _, l := range r.Levels {
				if l.Gap && l.Kind == temp.SignificantWind {
					gaps++
				}
			}
		}
	}
	if gaps != 1 {
		t.Errorf("%d gaps in the bulletin, want 1", gaps)
	}
}
