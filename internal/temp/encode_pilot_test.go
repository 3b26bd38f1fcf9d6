package temp

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"leadline/internal/sharedtest"

	"pgregory.net/rapid"
)

// Real bulletins of one exchange (shared folder, data/tac: Parts A and B of nine stations,
// radar wind, altitudes in steps of 500 m, significant winds by altitude) read and written
// again give the same groups.
func TestRealPilotBulletinsAreWrittenBack(t *testing.T) {
	bodies := map[string][]string{}
	for _, name := range []string{"A_UPCI30BABJ121800_C_RJTD_20191112193217_55.txt", "A_UGCI30BABJ121800_C_RJTD_20191112193217_52.txt"} {
		text, err := os.ReadFile(sharedtest.Dir(t, "data/tac/"+name))
		if err != nil {
			t.Fatal(err)
		}
		_, all, _ := strings.Cut(string(text), "\n")
		for _, r := range strings.Split(all, "=") {
			if f := strings.Fields(r); len(f) > 4 {
				bodies[f[2]] = append(bodies[f[2]], strings.TrimSpace(r))
			}
		}
	}
	written := 0
	for station, texts := range bodies {
		var parts []Report
		for _, x := range texts {
			parts = append(parts, one(t, x))
		}
		m := messageOf(parts...)
		m.Equipment, m.ByAltitude, m.AltitudeStep = '3', true, 500
		if station == "59758" { // gives 16190 m in Part B: in the tropics 100 hPa lies higher than in the standard atmosphere
			m.HundredHPaAltitude = 16600
		}
		for i := range m.Levels {
			if m.Levels[i].Number == "0" {
				m.Levels[i].Kind = Surface
			}
		}
		out, err := Encode(m)
		if err != nil {
			t.Errorf("station %s: %v", station, err)
			continue
		}
		for i, p := range parts {
			got := strings.Fields(strings.TrimRight(map[Part]string{'A': out.A, 'B': out.B}[p.Part], "=\n"))
			want := strings.Fields(texts[i])
			// "25500" is a direction with no speed; ours is written calm.
			for k := range want {
				if strings.HasSuffix(want[k], "000") && want[k][:2] != "00" && k < len(got) && got[k] == "00000" {
					want[k] = "00000"
				}
			}
			if !slices.Equal(got, want) {
				t.Errorf("station %s part %v\n got %v\nwant %v", station, p.Part, got, want)
			}
			written++
		}
		if out.C != "" || out.D != "" {
			t.Errorf("station %s: parts C %q and D %q", station, out.C, out.D)
		}
	}
	if written != 14 {
		t.Errorf("%d parts written back, want 14", written)
	}
}

func pilotLevel(kind Kind, hpa, z, direction, speed float64) Level {
	l := NewLevel(kind)
	l.PressureHPa, l.HeightGpm, l.WindDirectionDegrees, l.WindSpeed = hpa, z, direction, speed
	return l
}

// The worked groups of a public training course on the code (NAVEDTRA 14270, module 2,
// "PILOT code": fixed altitudes in steps of 300 m, 1 for 9 from 30 km; three standard
// levels from 1000 hPa, whose group 44300 the course misprints as 43300), and the forms
// of appendix E-I of Federal Meteorological Handbook No. 3 (1997): 77PPP and nnPPP by
// pressure, 7HHHH by altitude.
func TestPilotForms(t *testing.T) {
	nan := math.NaN()
	m := Message{Form: PilotLand, Station: "00042", Day: 3, Hour: 12, WindUnit: Knots, Equipment: '8', AltitudeStep: 300, Levels: []Level{
		pilotLevel(Surface, 1012, 84, 90, 12),
		pilotLevel(Standard, 1000, nan, 95, 35), pilotLevel(Standard, 925, nan, 80, 58), pilotLevel(Standard, 850, nan, 65, 101), pilotLevel(Standard, 500, nan, 270, 40),
		pilotLevel(Standard, 100, nan, 280, 60), pilotLevel(Standard, 70, nan, 285, 50), pilotLevel(Standard, 10, nan, 90, 30),
		pilotLevel(MaximumWind, 192, 12340, 285, 130), pilotLevel(MaximumWindAtTop, 8.7, 31990, 95, 140),
		pilotLevel(FixedAltitude, nan, 3600, 275, 75), pilotLevel(FixedAltitude, nan, 4200, 270, 90), pilotLevel(FixedAltitude, nan, 4800, 265, 106),
		pilotLevel(FixedAltitude, nan, 6000, 250, 80), pilotLevel(FixedAltitude, nan, 30000, 90, 20), pilotLevel(FixedAltitude, nan, 36000, 95, 21),
		pilotLevel(SignificantWind, 912, 850, 70, 60), pilotLevel(SignificantWind, 95.4, 16500, 282, 61), pilotLevel(SignificantWind, 60, 19440, 290, 20),
	}}
	m.Levels[8].ShearBelow, m.Levels[8].ShearAbove = 13, 14
	byPressure := Parts{
		A: "PPAA 53128 00042 44300 09535 08058 06601 44370 ///// 27040 ///// 44330 ///// ///// ///// 44215 ///// 28060 77192 28630 41314=",
		B: "PPBB 53128 00042 91246 27575 27090 26606 920// 25080 21212 00012 09012 11912 07060=",
		C: "PPCC 53128 00042 44370 28550 ///// ///// 44220 ///// 09030 66087 09640=",
		D: "PPDD 53128 00042 100// 09020 120// 09521 21212 11954 28061 22600 29020=",
	}
	byAltitude := byPressure
	byAltitude.A = strings.Replace(byAltitude.A, "77192", "71234", 1)
	byAltitude.B = strings.Replace(byAltitude.B, "00012 09012 11912", "00008 09012 10085", 1)
	byAltitude.C = strings.Replace(byAltitude.C, "66087", "63199", 1)
	byAltitude.D = strings.Replace(byAltitude.D, "11954 28061 22600", "11650 28061 21944", 1)
	for _, c := range []struct {
		altitude bool
		want     Parts
	}{{false, byPressure}, {true, byAltitude}} {
		m.ByAltitude = c.altitude
		got, err := Encode(m)
		if err != nil {
			t.Fatal(err)
		}
		flat := func(s string) string { return strings.Join(strings.Fields(s), " ") }
		for _, p := range [][3]string{{"A", got.A, c.want.A}, {"B", got.B, c.want.B}, {"C", got.C, c.want.C}, {"D", got.D, c.want.D}} {
			if flat(p[1]) != flat(p[2]) {
				t.Errorf("by altitude %v, part %s\n got %s\nwant %s", c.altitude, p[0], flat(p[1]), flat(p[2]))
			}
		}
	}
}

// Whatever Encode writes reads back without a finding as what was put in: Part B has levels
// enough for altitude and pressure to be told apart, and Part D follows it.
func TestPilotRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		form := rapid.SampledFrom([]Form{PilotLand, PilotShip, PilotMobile}).Draw(t, "form")
		m := Message{Form: form, Station: "00042", Day: 30, Hour: 23, WindUnit: rapid.SampledFrom([]Unit{MetersASecond, Knots}).Draw(t, "unit"), Equipment: '8',
			ByAltitude: rapid.Bool().Draw(t, "by altitude"), AltitudeStep: rapid.SampledFrom([]float64{300, 500}).Draw(t, "step"),
			LatitudeDegrees: -12.3, LongitudeDegrees: 45.6, ElevationMeters: 84, ElevationConfidence: 2}
		if form != PilotLand {
			m.Station = "LAKE1"
		}
		wind := func(l Level) Level {
			l.WindSpeed = float64(rapid.IntRange(1, 200).Draw(t, "speed"))
			l.WindDirectionDegrees = float64(rapid.IntRange(1, 72).Draw(t, "direction")) * 5
			return l
		}
		m.Levels = append(m.Levels, wind(pilotLevel(Surface, 1003, 80, 0, 0)))
		approximate := rapid.Bool().Draw(t, "approximate")
		for _, list := range [][]standardLevel{standardA, standardC} {
			for _, s := range list {
				if rapid.IntRange(0, 3).Draw(t, "there") > 0 {
					l := wind(pilotLevel(Standard, s.pressureHPa, math.NaN(), 0, 0))
					l.Approximate = approximate
					m.Levels = append(m.Levels, l)
				}
			}
		}
		step := 1.0
		for n := step; n < 80; n += float64(rapid.IntRange(1, 9).Draw(t, "steps")) {
			m.Levels = append(m.Levels, wind(pilotLevel(FixedAltitude, math.NaN(), n*m.AltitudeStep, 0, 0)))
		}
		p, z := 950.0, 500.0
		for range rapid.IntRange(6, 30).Draw(t, "levels") {
			m.Levels = append(m.Levels, wind(pilotLevel(SignificantWind, p, z, 0, 0)))
			p = math.Round(p*0.85*10) / 10
			if p > 100 {
				p = math.Round(p)
			}
			z += 1110
		}
		m.Levels = append(m.Levels, wind(pilotLevel(MaximumWind, 222, 11230, 0, 0)))
		out, err := Encode(m)
		if err != nil {
			t.Fatal(err)
		}
		var got []Level
		text := out.A + out.B + out.C + out.D
		all := Parse([]byte(text))
		if len(all) != 1 || all[0].FindingCount != 0 {
			t.Fatalf("%+v of %s", all, text)
		}
		for _, r := range all[0].Reports {
			if r.Form != form || r.Station != m.Station || r.WindUnit != m.WindUnit || r.Indicator != '8' || r.FindingCount != 0 {
				t.Fatalf("part %v: %v %q %v %c, findings %v of\n%s", r.Part, r.Form, r.Station, r.WindUnit, r.Indicator, r.Findings, text)
			}
			got = append(got, r.Levels...)
		}
		find := func(want Level) bool {
			return slices.ContainsFunc(got, func(l Level) bool {
				kind := l.Kind == want.Kind || want.Kind == Surface && l.Kind == SignificantWind && (l.Number == "0" || l.Number == "00")
				place := l.PressureHPa == want.PressureHPa
				if want.Kind == FixedAltitude || want.Kind != Standard && m.ByAltitude {
					place = l.HeightGpm == want.HeightGpm
				}
				return kind && place && l.WindSpeed == want.WindSpeed && l.WindDirectionDegrees == want.WindDirectionDegrees && l.Approximate == want.Approximate
			})
		}
		for _, l := range m.Levels {
			if l.PressureHPa < 10 && l.Kind == Standard {
				continue
			}
			if !find(l) {
				t.Fatalf("%+v is not in\n%s%s%s%s", l, out.A, out.B, out.C, out.D)
			}
		}
	})
}

func TestPilotRefuses(t *testing.T) {
	nan := math.NaN()
	surface := pilotLevel(Surface, 1012, 84, 90, 12)
	for _, c := range []struct {
		why    string
		levels []Level
		change func(*Message)
	}{
		{"0 surface levels", nil, nil},
		{"has no pressure", []Level{surface, pilotLevel(SignificantWind, nan, 500, 90, 12)}, nil},
		{"has no altitude", []Level{surface, pilotLevel(MaximumWind, 200, nan, 90, 12)}, func(m *Message) { m.ByAltitude = true }},
		{"steps of 300 m and of 500 m", []Level{surface, pilotLevel(FixedAltitude, nan, 600, 90, 12)}, func(m *Message) { m.AltitudeStep = 250 }},
		{"is not one to", []Level{surface, pilotLevel(FixedAltitude, nan, 700, 90, 12)}, nil},
		{"do not rise", []Level{surface, pilotLevel(SignificantWind, 900, 900, 90, 12), pilotLevel(SignificantWind, 950, 500, 90, 12)}, nil},
		{"the code holds 0 to 360", []Level{surface, pilotLevel(SignificantWind, 900, 900, 90, 812)}, nil},
		{"0 to 59990 m", []Level{surface, pilotLevel(SignificantWind, 0.1, 60500, 90, 12)}, func(m *Message) { m.ByAltitude = true }},
		{"no place in this code", []Level{surface, pilotLevel(Tropopause, 200, 11000, nan, nan)}, nil},
		{"same altitude", []Level{surface, pilotLevel(SignificantWind, 900, 901, 90, 12), pilotLevel(SignificantWind, 899.9, 902, 90, 12)}, func(m *Message) { m.ByAltitude = true }},
		{"a4", []Level{surface}, func(m *Message) { m.Equipment = 0 }},
	} {
		m := Message{Form: PilotLand, Station: "00042", Day: 3, Hour: 12, WindUnit: Knots, Equipment: '8', AltitudeStep: 300, Levels: c.levels}
		if c.change != nil {
			c.change(&m)
		}
		if out, err := Encode(m); err == nil || !strings.Contains(err.Error(), c.why) || out != (Parts{}) {
			t.Errorf("want an error with %q: %v, %+v", c.why, err, out)
		}
	}
}
