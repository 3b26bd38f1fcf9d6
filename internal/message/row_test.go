package message

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"leadline/internal/sounding"
)

// Figures set into a line are those of the standard library; ones too wide give way.
func TestFigures(t *testing.T) {
	for _, v := range []float64{0, 0.04, -0.04, 0.05, 1, -1, 9.99, 9.995, -99.96, 123.456, -123.456, 1011.4, 65535, 130071.04, -8192, 1e6, 123456.78, -123456.78, 1e8, 4.2e9, -4.2e9} {
		for decimals := 0; decimals <= 5; decimals++ {
			for width := 7; width <= 12; width++ {
				want := fmt.Sprintf("%*.*f", width, decimals, v)
				if strings.Trim(want, " -0.") == "" {
					want = strings.Replace(want, "-", " ", 1) // no minus zero
					want = fmt.Sprintf("%*s", width, strings.TrimSpace(want))
				}
				got := string(appendFixed(nil, v, decimals, width))
				if math.Abs(v) > 1e9 {
					want = fmt.Sprintf("%*s", width, "-")
				}
				if got != want && !tie(v, decimals) {
					t.Errorf("appendFixed(%v, %d, %d) = %q, want %q", v, decimals, width, got, want)
				}
				line := bytes.Repeat([]byte(" "), width+2)
				if set(line, 1, 1+width, v, powers[decimals], decimals) {
					if s := string(line[1 : 1+width]); s != want && !tie(v, decimals) {
						t.Errorf("set(%v, %d, %d) = %q, want %q", v, decimals, width, s, want)
					}
					if line[0] != ' ' || line[width+1] != ' ' {
						t.Errorf("set(%v, %d, %d) wrote beside its column: %q", v, decimals, width, line)
					}
				} else if len(want) <= width && math.Abs(v)*powers[decimals] < 4e9 {
					t.Errorf("set(%v, %d, %d) gave up although %q fits", v, decimals, width, want)
				}
			}
		}
	}
	raw := &sounding.Raw{}
	raw.Line, raw.Time = []int32{7}, []float64{1.25}
	var r row
	r.begin(raw, []shown{{values: []float64{math.NaN()}, width: 5, decimals: 1}, {values: []float64{1234567}, width: 5, decimals: 1}, {values: []float64{2}, width: 5, decimals: 1}}, 0)
	if got := string(r.append(nil, 0)); got != "     7       1.3     - 1234567.0   2.0" {
		t.Errorf("line %q", got)
	}
}

// tie tells whether half away from zero and half to even differ for v.
func tie(v float64, decimals int) bool {
	x := math.Abs(v) * powers[decimals]
	return math.Abs(x-math.Floor(x)-0.5) < 1e-6
}
