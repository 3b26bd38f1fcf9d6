package indices

import (
	"errors"
	"strings"
	"testing"

	"leadline/internal/flighttest"
)

func TestTextProfile(t *testing.T) {
	f := flighttest.New(7200)
	table, _ := flighttest.Products(f)
	set := Find(f, &table, Default())
	var b strings.Builder
	if err := TextProfile(&b, f, &table, &set); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	if len(text) > 4500 {
		t.Errorf("%d bytes for a slow line", len(text))
	}
	for i, line := range strings.Split(text, "\n") {
		if len(line) > 80 {
			t.Errorf("line %d has %d characters: %s", i+1, len(line), line)
		}
		for _, r := range line {
			if r > '~' || r < ' ' {
				t.Errorf("line %d holds %q", i+1, r)
			}
		}
	}
	for _, want := range []string{"basin-west", "look:", "500", "tropopause", "precipitable water", "most unstable", "+-", "inversion", "profile: ascent", "maximum wind: ", "cold point: "} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	// The plot puts 0 °C in one column and never a dew point right of the temperature.
	for _, line := range strings.Split(text, "\n") {
		if a, d := strings.IndexByte(line, '|'), strings.Index(line, "d"); a > 0 && d > a {
			if at := strings.IndexByte(line, 'T'); at > 0 && d > at {
				t.Errorf("dew point above temperature: %s", line)
			}
		}
	}
	if err := TextProfile(failing{}, f, &table, &set); err == nil {
		t.Error("an error of the writer is lost")
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("line is down") }

func TestTrimmed(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{{239.7, 98.2, "240+-98"}, {32.72, 1.07, "32.7+-1.1"}, {0.12345, 0.0064, "0.123+-0.006"}, {7148, 565, "7148+-565"}, {5, 0, "5"}, {-1e-9, 1e-8, "-1e-09"}} {
		if got := trimmed(c.v, c.u); got != c.want {
			t.Errorf("%g ± %g: %s, want %s", c.v, c.u, got, c.want)
		}
	}
}
