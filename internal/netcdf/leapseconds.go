package netcdf

import "time"

// leapSeconds are the moments from which one more second lies between UTC and
// atomic time; the first is the start of the present system, with none inserted.
// Source: IERS Bulletin C; the list ends with the insertion of 2016-12-31, the last
// one announced when it was written.
var leapSeconds = func() []time.Time {
	list := []time.Time{time.Date(1972, 1, 1, 0, 0, 0, 0, time.UTC)}
	for _, m := range [][2]int{
		{1972, 7}, {1973, 1}, {1974, 1}, {1975, 1}, {1976, 1}, {1977, 1}, {1978, 1}, {1979, 1}, {1980, 1},
		{1981, 7}, {1982, 7}, {1983, 7}, {1985, 7}, {1988, 1}, {1990, 1}, {1991, 1}, {1992, 7}, {1993, 7},
		{1994, 7}, {1996, 1}, {1997, 7}, {1999, 1}, {2006, 1}, {2009, 1}, {2012, 7}, {2015, 7}, {2017, 1},
	} {
		list = append(list, time.Date(m[0], time.Month(m[1]), 1, 0, 0, 0, 0, time.UTC))
	}
	return list
}()

// leapSecondsAt returns how many leap seconds were inserted before a moment.
func leapSecondsAt(t time.Time) int {
	n := 0
	for _, l := range leapSeconds[1:] {
		if t.Before(l) {
			break
		}
		n++
	}
	return n
}

// fromCount turns a clock that went on without leap seconds since a moment that
// had base of them into UTC.
func fromCount(clock time.Time, base int) time.Time {
	n := 0
	for _, l := range leapSeconds[1:] {
		if clock.Before(l.Add(time.Duration(n+1-base) * time.Second)) {
			break
		}
		n++
	}
	return clock.Add(time.Duration(base-n) * time.Second)
}
