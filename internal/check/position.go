package check

import (
	"fmt"
	"math"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// position looks at the satellite fix: too few satellites, a place that jumps or
// does not move while the balloon climbs.
func position(in *input) sounding.Report {
	b := in.begin(quality.Position)
	set := &in.set.Position
	b.fewSatellites()
	lat, lon := in.of(sounding.Latitude), in.of(sounding.Longitude)
	lons := in.cols.Values(sounding.Longitude)
	if lat.len() == 0 || lon.len() == 0 {
		for _, v := range positions {
			if in.cols.Get(v) != nil {
				b.skipped(v, "it has no value in flight")
			}
		}
		return b.rep
	}
	var frozen []sounding.Span
	longest := 0.0
	lat.runs(in.interval, 5, func(i, j int) {
		for i < j {
			k := i + 1
			for k < j && lons[lat.row[k]] == lons[lat.row[i]] {
				k++
			}
			if dt := lat.t[k-1] - lat.t[i]; k-i >= 5 && dt > set.Frozen && in.moved(lat, i, k) {
				frozen = append(frozen, lat.span(i, k))
				longest = max(longest, dt)
			}
			i = k
		}
	})
	if len(frozen) > 0 {
		b.both(positions, fact{severity: sounding.Questionable, spans: frozen, measured: longest, limit: set.Frozen, unit: "s",
			sentence: fmt.Sprintf("position stands still for up to %.0f s %s while the balloon moves on", longest, in.place(frozen...))})
	}
	jumps, moved, farthest := in.positionJumps(lat, lons, frozen)
	if len(moved) > 0 {
		b.both(positions, fact{severity: sounding.Questionable, spans: moved, measured: farthest / 1000, limit: set.Jump / 1000, unit: "km",
			sentence: fmt.Sprintf("position jumps by up to %.2g km %s: faster than any wind", farthest/1000, in.place(moved...))})
	}
	if len(jumps) > 0 {
		b.both(positions, fact{severity: sounding.Bad, spans: jumps, measured: farthest / 1000, limit: set.Jump / 1000, unit: "km",
			sentence: fmt.Sprintf("position jumps by up to %.1f km %s: faster than any wind", farthest/1000, in.place(jumps...))})
	}
	for _, v := range positions {
		b.ran(v)
	}
	return b.rep
}

// moved tells whether anything else says that the balloon moved during samples
// [i, k): wind or velocity above 1 m/s. Where nothing can tell, coarse positions get
// the benefit of the doubt below 60 s.
func (in *input) moved(s *samples, i, k int) bool {
	u, v, from := in.wind()
	if from != nil {
		fast, seen := 0, 0
		for j := i; j < k; j++ {
			row := s.row[j]
			if math.IsNaN(u[row]) || math.IsNaN(v[row]) {
				continue
			}
			seen++
			if math.Hypot(u[row], v[row]) > 1 {
				fast++
			}
		}
		if seen > 0 {
			// The distance must be well beyond the step of the coordinates.
			step := max(s.resolution(), 1e-6) * 111e3
			mean := 0.0
			for j := i; j < k; j++ {
				if w := math.Hypot(u[s.row[j]], v[s.row[j]]); !math.IsNaN(w) {
					mean += w / float64(k-i)
				}
			}
			return fast > seen/2 && mean*(s.t[k-1]-s.t[i]) > 5*step
		}
	}
	return s.t[k-1]-s.t[i] > 60
}

// positionJumps returns the rows whose place no wind can reach from the last good
// one: lone ones, and pairs of rows between which the place moves for good. Where it
// was held before, the catching up is no jump.
func (in *input) positionJumps(lat *samples, lons []float64, frozen []sounding.Span) (lone, moved []sounding.Span, farthest float64) {
	set := &in.set.Position
	held := func(row int) bool {
		for _, s := range frozen {
			if s.Contains(row) {
				return true
			}
		}
		return false
	}
	last := -1
	// The last jump that stayed, to be paired with one back.
	var away struct {
		row, index  int
		east, north float64
	}
	away.row = -1
	for i := 0; i < lat.len(); i++ {
		row := int(lat.row[i])
		if math.IsNaN(lons[row]) || math.Abs(lat.x[i]) > 90 {
			continue
		}
		if last >= 0 {
			dlat := lat.x[i] - lat.x[last]
			dlon := math.Remainder(lons[row]-lons[lat.row[last]], 360)
			dt := lat.t[i] - lat.t[last]
			// A cheap bound first: 1° of latitude is 111 km.
			if far := 111.7e3 * (math.Abs(dlat) + math.Abs(dlon)); far > set.Jump && far > set.Speed*dt {
				d, _, _ := earth.Inverse(lat.x[last], lons[lat.row[last]], lat.x[i], lons[row])
				if d > set.Jump && d > set.Speed*dt && !held(int(lat.row[last])) {
					farthest = max(farthest, d)
					if !in.staysAt(lat, lons, i) {
						lone = append(lone, sounding.Span{From: row, To: row + 1})
						continue
					}
					east, north := dlon*math.Cos(lat.x[i]*math.Pi/180), dlat
					if away.row >= 0 && lat.t[i]-lat.t[away.index] <= set.Back && math.Hypot(east+away.east, north+away.north) < 0.5*math.Hypot(east, north) {
						moved[len(moved)-1] = sounding.Span{From: away.row, To: row}
						away.row = -1
					} else {
						moved = append(moved, sounding.Span{From: int(lat.row[last]), To: row + 1})
						away.row, away.index, away.east, away.north = row, i, east, north
					}
				}
			}
		}
		last = i
	}
	return joined(lone), joined(moved), farthest
}

func (in *input) staysAt(lat *samples, lons []float64, i int) bool {
	near := 0
	for j := i + 1; j < lat.len() && j <= i+5; j++ {
		row := lat.row[j]
		if d := 111.7e3 * (math.Abs(lat.x[j]-lat.x[i]) + math.Abs(math.Remainder(lons[row]-lons[lat.row[i]], 360))); d < in.set.Position.Jump+in.set.Position.Speed*(lat.t[j]-lat.t[i]) {
			near++
		}
	}
	return near >= 3
}

// joined merges spans that touch.
func joined(spans []sounding.Span) []sounding.Span {
	var out []sounding.Span
	for _, s := range spans {
		if k := len(out) - 1; k >= 0 && s.From <= out[k].To {
			out[k].To = max(out[k].To, s.To)
		} else {
			out = append(out, s)
		}
	}
	return out
}

func (b *builder) fewSatellites() {
	in := b.in
	s := in.of(sounding.Satellites)
	if s.len() == 0 {
		return
	}
	fewest := in.set.Position.Fewest
	if in.ctx.Sheet != nil && in.ctx.Sheet.Position.Fewest > 0 {
		fewest = in.ctx.Sheet.Position.Fewest
	}
	var spans []sounding.Span
	least := math.Inf(1)
	for i, x := range s.x {
		if x >= float64(fewest) {
			continue
		}
		least = min(least, x)
		row := int(s.row[i])
		if k := len(spans) - 1; k >= 0 && row-spans[k].To <= 2 {
			spans[k].To = row + 1
		} else {
			spans = append(spans, sounding.Span{From: row, To: row + 1})
		}
	}
	b.ran(sounding.Satellites)
	if len(spans) == 0 {
		return
	}
	sentence := fmt.Sprintf("fewer than %d satellites on %s %s, down to %.0f: position, height and wind are doubtful there", fewest, plural(total(spans), "row"), in.place(spans...), least)
	vs := append([]sounding.Variable(nil), positions...)
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid, sounding.VelocityEast, sounding.VelocityNorth, sounding.VelocityUp} {
		if in.cols.Get(v) != nil {
			vs = append(vs, v)
		}
	}
	valued := func(v sounding.Variable) bool { // anything to doubt there
		for _, span := range spans {
			for _, x := range in.cols.Values(v)[span.From:span.To] {
				if !math.IsNaN(x) {
					return true
				}
			}
		}
		return false
	}
	any := false
	for _, v := range vs {
		if in.cols.Get(v) != nil && valued(v) {
			any = true
			b.find(fact{variable: v, severity: sounding.Questionable, spans: spans, measured: least, limit: float64(fewest), unit: "satellites", sentence: sentence})
		}
	}
	if !any { // the values are missing already: said with the gaps
		b.find(fact{variable: sounding.Satellites, severity: sounding.Note, spans: spans, unflagged: true, measured: least, limit: float64(fewest), unit: "satellites", sentence: sentence})
	}
}
