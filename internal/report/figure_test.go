package report

import (
	"bytes"
	"image/png"
	"strings"
	"testing"

	"leadline/internal/flighttest"
	"leadline/internal/sounding"
)

// Each figure names flight and profile, in both formats, and is the same from run to run.
func TestFigures(t *testing.T) {
	o := outcomeOf(flighttest.New(3000))
	for _, kind := range Figures {
		for _, profile := range sounding.ProfileKinds() {
			p, err := o.Profile(profile)
			if err != nil {
				t.Fatal(err)
			}
			var a, b, c bytes.Buffer
			if err := Figure(&a, p, FigureOptions{Kind: kind, PNG: true, WidthMM: 85, DPI: 100}); err != nil {
				t.Fatalf("%s of %s: %v", kind, profile, err)
			}
			if img, err := png.Decode(bytes.NewReader(a.Bytes())); err != nil || img.Bounds().Dx() != 335 {
				t.Errorf("%s of %s: %v", kind, profile, err)
			}
			if err := Figure(&b, p, FigureOptions{Kind: kind}); err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(b.String(), o.Final.FlightName+" · "+string(profile)[:6]) && profile != sounding.MergedProfile {
				t.Errorf("%s of %s does not say so", kind, profile)
			}
			if err := Figure(&c, p, FigureOptions{Kind: kind}); err != nil || !bytes.Equal(b.Bytes(), c.Bytes()) {
				t.Errorf("%s of %s differs from run to run: %v", kind, profile, err)
			}
		}
	}
	var b bytes.Buffer
	if err := Figure(&b, o, FigureOptions{Kind: "poster"}); err == nil || !strings.Contains(err.Error(), "want one of diagram, hodograph, sheet") {
		t.Error(err)
	}
}
