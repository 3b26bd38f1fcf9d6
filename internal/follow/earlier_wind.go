package follow

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"leadline/internal/prelaunch"
	"leadline/internal/workbench"
)

// Limits of the wind of an earlier flight (our proposals; a test measures them on the
// flights of three days of an open data set).
const (
	earlierOldest   = 30 * time.Hour   // older: the wind of this flight's own top tells as much
	earlierYoungest = 10 * time.Minute // younger: the same flight, followed again
	windGrowth      = 2.0              // m s⁻¹ of doubt a component per square root of an hour
)

// Earlier is the wind of an earlier flight of the site.
type Earlier struct {
	Profile *prelaunch.Profile
	Age     time.Duration // at the release of the flight that is followed
}

// EarlierWind finds the latest flight of a site in the logbook that was released before an
// instant, and its wind; nil where there is none of the last 30 hours, or the site has no
// name.
func EarlierWind(ctx context.Context, b *workbench.Bench, site string, before time.Time) (*Earlier, error) {
	site = strings.TrimSpace(site)
	if site == "" {
		return nil, nil
	}
	rows, err := b.Rows(ctx)
	if err != nil {
		return nil, err
	}
	best := -1
	for i := range rows {
		age := before.Sub(rows[i].Release)
		if !strings.EqualFold(strings.TrimSpace(rows[i].Site), site) || rows[i].Release.IsZero() || age < earlierYoungest || age > earlierOldest {
			continue
		}
		if best < 0 || rows[i].Release.After(rows[best].Release) {
			best = i
		}
	}
	if best < 0 {
		return nil, nil
	}
	o, _, err := b.Open(ctx, rows[best].ID)
	if err != nil {
		return nil, err
	}
	p, err := prelaunch.FromFlight(o.Final)
	if err != nil {
		return nil, err
	}
	age := before.Sub(rows[best].Release)
	p.Source = fmt.Sprintf("the last flight of this site, %s, %s before", rows[best].Name, hoursWords(age))
	return &Earlier{Profile: p, Age: age}, nil
}

func hoursWords(d time.Duration) string {
	if d < 2*time.Hour {
		return fmt.Sprintf("%.0f min", d.Minutes())
	}
	return fmt.Sprintf("%.0f h", d.Hours())
}

// doubt returns the standard uncertainty in m s⁻¹ of a wind component that an earlier
// flight gives: it grows with the square root of its age and ends where the highest wind of
// the flight itself is as good.
func (e *Earlier) doubt() float64 {
	return math.Min(unplannedWind, windGrowth*math.Sqrt(math.Max(0, e.Age.Hours())))
}
