package prelaunch

import (
	"fmt"
	"time"

	"leadline/internal/sun"
)

// Sunlight is the Sun at one point of the flight.
type Sunlight struct {
	Where     string    `json:"where"` // release, 5 km, 10 km, …, burst, landing
	UTC       time.Time `json:"utc"`
	Height    float64   `json:"height_m_msl"`
	Elevation float64   `json:"sun_elevation_deg"` // geometric
	Visible   bool      `json:"sun_visible"`       // above the sea horizon seen from that height
}

// SunAlong returns the Sun at release, every 5 km of the ascent, burst and landing of a
// track, and says where the flight passes from night into day or back.
func SunAlong(release time.Time, track []Point) ([]Sunlight, []Remark) {
	r := remarks{about: "slot"}
	var out []Sunlight
	add := func(where string, p *Point) {
		at := release.Add(time.Duration(p.Time * float64(time.Second)))
		e, _ := sun.PositionAt(at, p.Latitude, p.Longitude)
		out = append(out, Sunlight{where, at.UTC(), p.Height, e, sun.SunVisible(e, p.Height)})
	}
	next := 5000.0
	for i := range track {
		p := &track[i]
		last := i == len(track)-1
		switch {
		case i == 0:
			add("release", p)
			for next <= p.Height {
				next += 5000
			}
		case last:
			add("landing", p)
		case p.Phase == Ascent && track[i+1].Phase == Descent:
			add("burst", p)
		case p.Phase == Ascent && p.Height >= next:
			add(fmt.Sprintf("%.0f km", next/1000), p)
			next += 5000
		}
	}
	for i := 1; i < len(out); i++ {
		if out[i].Visible != out[i-1].Visible {
			words := "out of night into sunlight"
			if !out[i].Visible {
				words = "out of sunlight into night"
			}
			r.say(Note, "the flight passes %s between %s and %s: radiation corrections change along the profile", words, out[i-1].Where, out[i].Where)
		}
	}
	return out, r.list
}
