package sun

import (
	"math"
	"time"
)

// Day holds the moments of one day at a place. Rise and Set are zero (IsZero)
// where the Sun does not cross the horizon that day: see AlwaysUp and AlwaysDown.
type Day struct {
	Rise, Transit, Set   time.Time // UTC
	AlwaysUp, AlwaysDown bool
}

// RiseTransitSet returns sunrise, transit and sunset at a place in degrees within
// 12 hours either side of the local mean noon of a date (year, month and day are
// taken from date in its own zone). Rise and set are those of the upper limb on a
// sea horizon with 0.5667° of refraction, −0.8333° of elevation, seen from sea
// level: good to about a minute, the refraction of the day permitting.
func RiseTransitSet(date time.Time, latitude, longitude float64) Day {
	year, month, day := date.Date()
	noon := unixSeconds(time.Date(year, month, day, 12, 0, 0, 0, time.UTC)) - longitude*240
	for range 4 {
		hour := math.Remainder(at(noon).seen().greenwichHour+longitude*degree, 2*math.Pi)
		noon -= hour / (2 * math.Pi) * 86400
	}
	d := Day{Transit: moment(noon)}
	if math.IsNaN(noon + latitude) {
		return Day{}
	}
	above := func(unix float64) float64 {
		elevation, _ := Position(unix, latitude, longitude)
		return elevation + sunRadius + horizonRefraction
	}
	const half = 43200.0
	if above(noon) <= 0 {
		d.AlwaysDown = true
		return d
	}
	morning, evening := above(noon-half) < 0, above(noon+half) < 0
	d.AlwaysUp = !morning && !evening
	if morning {
		d.Rise = moment(crossing(above, noon-half, noon))
	}
	if evening {
		d.Set = moment(crossing(above, noon+half, noon))
	}
	return d
}

// crossing bisects to 10 ms between a time below the horizon and one above.
func crossing(above func(float64) float64, below, over float64) float64 {
	for math.Abs(over-below) > 0.01 {
		middle := 0.5 * (below + over)
		if above(middle) < 0 {
			below = middle
		} else {
			over = middle
		}
	}
	return 0.5 * (below + over)
}

func moment(unix float64) time.Time {
	if math.IsNaN(unix) {
		return time.Time{}
	}
	whole := math.Floor(unix)
	return time.Unix(int64(whole), int64(1e9*(unix-whole))).UTC()
}
