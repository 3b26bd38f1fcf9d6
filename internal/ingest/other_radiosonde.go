package ingest

import (
	"fmt"
	"math"
	"sort"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Limits of otherRadiosonde (own choices; docs/methods/sources.md).
const (
	horizontalSpeed = 150.0 // m/s, faster than any wind
	horizontalSlack = 500.0 // m
	verticalSpeed   = 80.0  // m/s, faster than a fall after burst
	verticalSlack   = 100.0 // m
	longestVisit    = 3600.0
)

// otherRadiosonde finds rows of another radiosonde among those of a flight: by the
// serial number of each row, or where position and height jump away together and
// come back together.
func otherRadiosonde(raw *sounding.Raw) []sounding.Finding {
	var out []sounding.Finding
	for i := range raw.Extra {
		if e := &raw.Extra[i]; e.Name == SerialColumn && e.Text != nil {
			out = append(out, strangers(raw, e.Text)...)
		}
	}
	return append(out, visits(raw, out)...)
}

// strangers names the rows with another serial number than most rows.
func strangers(raw *sounding.Raw, serial []string) []sounding.Finding {
	count := map[string]int{}
	for _, s := range serial {
		if s != "" {
			count[s]++
		}
	}
	if len(count) < 2 {
		return nil
	}
	names := make([]string, 0, len(count))
	for s := range count {
		names = append(names, s)
	}
	sort.Slice(names, func(a, b int) bool {
		if count[names[a]] != count[names[b]] {
			return count[names[a]] > count[names[b]]
		}
		return names[a] < names[b]
	})
	var out []sounding.Finding
	for k, s := range names[1:] {
		if k == ungrouped {
			break
		}
		var rows []int
		for i, x := range serial {
			if x == s {
				rows = append(rows, i)
			}
		}
		f := lineFinding(quality.Sources, sounding.Bad, 0, 0)
		f.Spans = rowSpans(rows)
		f.Measured, f.Unit = sounding.Number(len(rows)), "rows"
		f.Sentence = fmt.Sprintf("%d rows are of radiosonde %s, the flight's is %s (%d rows): they are kept and bad", len(rows), shown(s), shown(names[0]), count[names[0]])
		out = append(out, f)
	}
	if len(names) > ungrouped+1 {
		var rows []int
		kept := map[string]bool{"": true}
		for _, s := range names[:ungrouped+1] {
			kept[s] = true
		}
		for i, x := range serial {
			if !kept[x] {
				rows = append(rows, i)
			}
		}
		f := lineFinding(quality.Sources, sounding.Bad, 0, 0)
		f.Spans = rowSpans(rows)
		f.Sentence = fmt.Sprintf("%d more rows are of %d other radiosondes: they are kept and bad", len(rows), len(names)-1-ungrouped)
		out = append(out, f)
	}
	return out
}

// track is what tells two radiosondes apart: place and height of a row.
type track struct {
	time, latitude, longitude, height []float64
}

// apart tells whether two rows cannot be of one radiosonde: by place, and by height.
// known is false where neither can be said.
func (t *track) apart(a, b int) (place, height, known bool) {
	dt := math.Abs(t.time[b] - t.time[a])
	if t.latitude != nil {
		if d := kilometres(t.latitude[a], t.longitude[a], t.latitude[b], t.longitude[b]) * 1000; !math.IsNaN(d) {
			place, known = d > horizontalSlack+horizontalSpeed*dt, true
		}
	}
	if t.height != nil {
		if d := math.Abs(t.height[b] - t.height[a]); !math.IsNaN(d) {
			height, known = d > verticalSlack+verticalSpeed*dt, true
		}
	}
	return place, height, known
}

// visits finds runs of rows between a jump away and a jump back.
func visits(raw *sounding.Raw, named []sounding.Finding) []sounding.Finding {
	t := track{time: raw.Time, latitude: raw.Values(sounding.Latitude), longitude: raw.Values(sounding.Longitude), height: heightsOf(&raw.Columns)}
	if t.longitude == nil {
		t.latitude = nil
	}
	if t.latitude == nil || t.height == nil {
		return nil // one jump alone is no evidence: it may be the sensor
	}
	skip := make([]bool, raw.Len())
	for _, f := range named {
		for _, s := range f.Spans {
			for i := s.From; i < s.To; i++ {
				skip[i] = true
			}
		}
	}
	var rows []int
	var runs [][2]int
	last := -1
	budget := 20*raw.Len() + 100_000 // of rows looked ahead
	for i := 0; i < raw.Len(); i++ {
		if skip[i] || math.IsNaN(t.latitude[i]) || math.IsNaN(t.height[i]) {
			continue
		}
		if last < 0 {
			last = i
			continue
		}
		place, height, _ := t.apart(last, i)
		if !place || !height {
			last = i
			continue
		}
		// Away. Back within an hour?
		back := -1
		for k := i + 1; k < raw.Len() && raw.Time[k]-raw.Time[last] <= longestVisit && budget > 0; k++ {
			budget--
			if skip[k] || math.IsNaN(t.latitude[k]) || math.IsNaN(t.height[k]) {
				continue
			}
			p, h, _ := t.apart(last, k)
			fromHere, heightHere, _ := t.apart(k-1, k)
			if !p && !h && (fromHere || heightHere || math.IsNaN(t.latitude[k-1])) {
				back = k
				break
			}
		}
		if back < 0 || back-i < 2 {
			last = i
			continue
		}
		for k := i; k < back; k++ {
			rows = append(rows, k)
		}
		runs = append(runs, [2]int{i, back})
		last = back
		i = back
	}
	if len(runs) == 0 {
		return nil
	}
	first := runs[0]
	f := lineFinding(quality.Sources, sounding.Bad, 0, 0)
	f.Spans = rowSpans(rows)
	d := kilometres(t.latitude[first[0]-1], t.longitude[first[0]-1], t.latitude[first[0]], t.longitude[first[0]])
	f.Measured, f.Limit, f.Unit = sounding.Number(math.Round(d*10)/10), sounding.Number(horizontalSpeed), "km"
	f.Limit = sounding.NotSet
	f.Sentence = fmt.Sprintf("%d rows are of another radiosonde: place and height jump away by %.1f km and %.0f m at line %d and come back at line %d: they are kept and bad", len(rows), d, math.Abs(t.height[first[0]]-t.height[first[0]-1]), raw.Line[first[0]], raw.Line[first[1]])
	return []sounding.Finding{f}
}

// kilometres is the distance of two places on a sphere of 6371 km: good to half a
// per cent, for coarse decisions only.
func kilometres(lat1, lon1, lat2, lon2 float64) float64 {
	const radian = math.Pi / 180
	s1, s2 := math.Sin((lat2-lat1)*radian/2), math.Sin((lon2-lon1)*radian/2)
	h := s1*s1 + math.Cos(lat1*radian)*math.Cos(lat2*radian)*s2*s2
	return 2 * 6371 * math.Asin(math.Min(1, math.Sqrt(h)))
}
