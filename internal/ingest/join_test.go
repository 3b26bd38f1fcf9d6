package ingest

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// source makes a flight's rows from (s of the day) to (excluded), every step seconds,
// as a receiver whose clock is ahead by clock seconds sees them. Rising 5 m/s from 23:00 UTC.
func source(name string, from, to, step, clock float64) *sounding.Raw {
	raw := &sounding.Raw{Epoch: time.Date(2031, 6, 3, 0, 0, 0, 0, time.UTC), Sources: []sounding.Source{{Name: name, SHA256: name}}}
	var p, ta, h []float64
	for t := from; t < to; t += step {
		z := 400 + 5*math.Max(0, t-82800)
		raw.Time = append(raw.Time, t+clock)
		raw.Line = append(raw.Line, int32(len(raw.Time)))
		raw.Source = append(raw.Source, 0)
		h = append(h, z)
		p = append(p, 1013.25*math.Pow(1-z/44330.77, 5.25588))
		ta = append(ta, 288.15-0.0065*z)
	}
	raw.Series = []sounding.Series{{Variable: sounding.Pressure, Values: p}, {Variable: sounding.Temperature, Values: ta}, {Variable: sounding.HeightMSL, Values: h}}
	raw.Sources[0].Rows = len(raw.Time)
	return raw
}

func sentences(raw *sounding.Raw) string {
	out := ""
	for _, f := range raw.Findings {
		out += fmt.Sprintf("%s %s %v: %s\n", f.Check, f.Severity, f.Spans, f.Sentence)
	}
	return out
}

func TestJoin(t *testing.T) {
	t.Run("restarted receiver", func(t *testing.T) {
		a, b := source("a", 82700, 84000, 1, 0), source("b", 84100, 85000, 1, 0)
		joined, err := Join([]*sounding.Raw{b, a})
		if err != nil {
			t.Fatal(err)
		}
		if joined.Len() != 1300+900 || len(joined.Sources) != 2 || joined.Source[0] != 1 || joined.Source[2000] != 0 {
			t.Errorf("%d rows, sources %d", joined.Len(), len(joined.Sources))
		}
		if s := sentences(joined); !strings.Contains(s, "101 s are missing between the rows of source a and those of b") {
			t.Error(s)
		}
	})
	t.Run("overlap takes the fuller row, then the source given first", func(t *testing.T) {
		a, b := source("a", 82700, 84000, 1, 0), source("b", 83900, 85000, 1, 0.3)
		for i := range a.Series[1].Values {
			if a.Time[i] >= 83950 {
				a.Series[1].Values[i] = nan
			}
		}
		before := append([]float64(nil), a.Time...)
		joined, err := Join([]*sounding.Raw{a, b})
		if err != nil {
			t.Fatal(err)
		}
		if joined.Len() != 2300 {
			t.Fatalf("%d rows, want 2300", joined.Len())
		}
		for i, at := range joined.Time {
			want := uint8(0)
			if at >= 83949.9 {
				want = 1
			}
			if joined.Source[i] != want {
				t.Fatalf("row at %g s is of source %d, want %d", at, joined.Source[i], want)
			}
		}
		s := sentences(joined)
		if !strings.Contains(s, "sources a and b overlap in 100 rows, and differ there, Pressure by up to") && !strings.Contains(s, "sources a and b overlap in 100 rows, and agree there") {
			t.Error(s)
		}
		if !strings.Contains(s, "50 of them from b") {
			t.Error(s)
		}
		for i := range before {
			if a.Time[i] != before[i] {
				t.Fatal("a source was changed")
			}
		}
	})
	t.Run("clock of the second receiver", func(t *testing.T) {
		a, b := source("a", 82700, 86000, 1, 0), source("b", 82700, 86000, 1, 37)
		joined, err := Join([]*sounding.Raw{a, b})
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, f := range joined.Findings {
			if strings.Contains(f.Sentence, "the clock of source b is 37 s ahead of that of a") {
				found = true
				if f.Severity != sounding.Questionable || math.Abs(f.Measured.Value()-37) > 0.1 || f.Check != quality.Sources {
					t.Errorf("%+v", f)
				}
			}
		}
		if !found {
			t.Error(sentences(joined))
		}
		b = source("b", 82700, 86000, 1, 0.4)
		if joined, err = Join([]*sounding.Raw{a, b}); err != nil || strings.Contains(sentences(joined), "clock") {
			t.Errorf("%v %s", err, sentences(joined))
		}
	})
	t.Run("same bytes, same rows", func(t *testing.T) {
		a := source("a", 82700, 83000, 1, 0)
		again := source("a", 82700, 83000, 1, 0)
		other := source("other.txt", 82700, 83000, 1, 0)
		joined, err := Join([]*sounding.Raw{a, again, other})
		if err != nil {
			t.Fatal(err)
		}
		s := sentences(joined)
		if joined.Len() != 300 || !strings.Contains(s, "source a holds the same bytes as a: it is taken once") || !strings.Contains(s, "source other.txt holds the same rows as a: it is taken once") {
			t.Errorf("%d rows\n%s", joined.Len(), s)
		}
	})
	t.Run("across midnight", func(t *testing.T) {
		a := source("a", 86000, 86400, 1, 0)
		b := source("b", 86400, 86800, 1, 0)
		b.Epoch = b.Epoch.AddDate(0, 0, 1)
		for i := range b.Time {
			b.Time[i] -= 86400
		}
		joined, err := Join([]*sounding.Raw{a, b})
		if err != nil {
			t.Fatal(err)
		}
		if joined.Time[0] != 86000 || joined.Time[799] != 86799 || len(joined.Findings) != 0 {
			t.Errorf("%g to %g\n%s", joined.Time[0], joined.Time[799], sentences(joined))
		}
	})
	t.Run("too far apart", func(t *testing.T) {
		_, err := Join([]*sounding.Raw{source("a", 0, 300, 1, 0), source("b", 50000, 50300, 1, 0)})
		if err == nil || !strings.Contains(err.Error(), "lie 13.8 h apart") {
			t.Error(err)
		}
	})
	t.Run("findings keep their rows", func(t *testing.T) {
		a, b := source("a", 84000, 84100, 1, 0), source("b", 82700, 82800, 1, 0)
		f := timeOrder(sounding.Bad, "rows", sounding.Span{From: 10, To: 12})
		a.Findings = []sounding.Finding{f}
		joined, err := Join([]*sounding.Raw{a, b})
		if err != nil {
			t.Fatal(err)
		}
		if s := joined.Findings[0].Spans[0]; s.From != 110 || s.To != 112 || joined.Findings[0].FirstLine != 11 {
			t.Errorf("%+v", joined.Findings[0])
		}
		if a.Findings[0].Spans[0].From != 10 {
			t.Error("a source's finding was changed")
		}
	})
}

func TestFingerprint(t *testing.T) {
	a := source("a", 82700, 84000, 1, 0)
	same := source("renamed", 82700, 84000, 1, 0)
	for i := range same.Series[0].Values {
		same.Series[0].Values[i] = float64(float32(same.Series[0].Values[i])) // as a netCDF file holds it
	}
	same.Extra = append(same.Extra, sounding.Extra{Name: "x", Values: make([]float64, same.Len())})
	same.Epoch = same.Epoch.AddDate(0, 0, -1)
	for i := range same.Time {
		same.Time[i] += 86400
	}
	if Fingerprint(a) != Fingerprint(same) {
		t.Error("the same flight under another name has another key")
	}
	for name, b := range map[string]*sounding.Raw{"a row more": source("a", 82700, 84001, 1, 0), "a second later": source("a", 82700, 84000, 1, 1)} {
		if Fingerprint(a) == Fingerprint(b) {
			t.Errorf("%s has the same key", name)
		}
	}
	b := source("a", 82700, 84000, 1, 0)
	b.Series[0].Values[700] += 0.2
	if Fingerprint(a) == Fingerprint(b) {
		t.Error("another pressure has the same key")
	}
}

func TestSplit(t *testing.T) {
	h := func(raw *sounding.Raw, f func(t float64) float64) {
		for i, at := range raw.Time {
			z := f(at)
			raw.Series[2].Values[i] = z
			raw.Series[0].Values[i] = 1013.25 * math.Pow(1-z/44330.77, 5.25588)
		}
	}
	// Up to 1500 m and down within ten minutes, ten minutes at the ground, then the flight.
	two := source("two", 0, 5000, 1, 0)
	h(two, func(t float64) float64 {
		switch {
		case t < 300:
			return 400
		case t < 600:
			return 400 + 5*(t-300)
		case t < 900:
			return 1900 - 5*(t-600)
		case t < 1500:
			return 400
		}
		return 400 + 5*(t-1500)
	})
	two.Findings = []sounding.Finding{timeOrder(sounding.Bad, "x", sounding.Span{From: 1100, To: 1400})}
	parts := Split(two)
	if len(parts) != 2 || parts[0].Len()+parts[1].Len() != two.Len() {
		t.Fatalf("%d parts", len(parts))
	}
	cut := parts[0].Len()
	if cut < 900 || cut > 1500 {
		t.Errorf("cut at row %d, not at the ground", cut)
	}
	if !strings.Contains(sentences(parts[1]), "the source holds 2 flights: this is number 2") {
		t.Error(sentences(parts[1]))
	}
	if a, b := parts[0].Findings[0].Spans[0], parts[1].Findings[0].Spans[0]; a.From != 1100 || a.To != cut || b.From != 0 || b.To != 1400-cut {
		t.Errorf("finding cut to %v and %v", a, b)
	}
	one := source("one", 0, 9000, 1, 0)
	h(one, func(t float64) float64 { // a flight with its descent and an hour on the ground after it
		switch {
		case t < 600:
			return 400
		case t < 3600:
			return 400 + 5*(t-600)
		case t < 4600:
			return 15400 - 15*(t-3600)
		}
		return 400
	})
	if parts := Split(one); len(parts) != 1 || parts[0] != one {
		t.Errorf("one flight became %d", len(parts))
	}
	float := source("float", 0, 9000, 1, 0)
	h(float, func(t float64) float64 { return 3000 + 2500*math.Sin(t/400) }) // rises and falls, never back to the ground for long
	if parts := Split(float); len(parts) != 1 {
		t.Errorf("a floating balloon became %d flights", len(parts))
	}
}

func TestOtherRadiosonde(t *testing.T) {
	raw := source("a", 82800, 84800, 1, 0)
	n := raw.Len()
	lat, lon := make([]float64, n), make([]float64, n)
	for i := range lat {
		lat[i], lon[i] = 46+float64(i)*1e-5, 6+float64(i)*1e-5
	}
	raw.Series = append(raw.Series, sounding.Series{Variable: sounding.Latitude, Values: lat}, sounding.Series{Variable: sounding.Longitude, Values: lon})
	if f := otherRadiosonde(raw); len(f) != 0 {
		t.Errorf("unwanted: %v", f)
	}
	// A satellite jump alone is no other radiosonde.
	lat[500], lat[501], lat[502] = 47, 47, 47
	if f := otherRadiosonde(raw); len(f) != 0 {
		t.Errorf("unwanted: %v", f)
	}
	for i := 1000; i < 1090; i++ {
		lat[i], raw.Series[2].Values[i] = 45.2, 9000
	}
	f := otherRadiosonde(raw)
	if len(f) != 1 || len(f[0].Spans) != 1 || f[0].Spans[0] != (sounding.Span{From: 1000, To: 1090}) || f[0].Severity != sounding.Bad {
		t.Errorf("findings %v", f)
	}
	serial := make([]string, n)
	for i := range serial {
		serial[i] = "D1042"
		if i >= 1000 && i < 1090 {
			serial[i] = "X9"
		}
	}
	raw.Extra = []sounding.Extra{{Name: SerialColumn, Text: serial}}
	f = otherRadiosonde(raw)
	if len(f) != 1 || !strings.Contains(f[0].Sentence, "90 rows are of radiosonde X9, the flight's is D1042 (1910 rows)") || f[0].Spans[0] != (sounding.Span{From: 1000, To: 1090}) {
		t.Errorf("findings %v", f)
	}
}
