package ingest

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Limits of Join (own choices; docs/methods/sources.md).
const (
	sameRowShare     = 0.6       // of the row spacing: rows of two sources this close are one row
	farApart         = 12 * 3600 // s between sources that cannot be one flight
	clockLimit       = 1.0       // s, or two rows, from which a clock difference is named
	clockMatches     = 30        // rows that must agree on it
	pressureApart    = 1.0       // hPa, K, % between sources in the overlap that raise a doubt
	temperatureApart = 1.0
	humidityApart    = 5.0
)

// Join makes one flight of several sources of it: rows in the order of time; where
// sources overlap, of two rows of the same instant the one with more values, and
// between equals that of the source given first. Overlap, differences there, gaps,
// and a difference between the clocks become findings; nothing is shifted. Sources
// given twice are taken once. The sources are not changed.
func Join(raws []*sounding.Raw) (*sounding.Raw, error) {
	if len(raws) == 0 {
		return nil, errors.New("nothing to join")
	}
	var list []*sounding.Raw
	var findings []sounding.Finding
	seen := map[string]string{}
	for _, r := range raws {
		if r.Len() == 0 {
			return nil, fmt.Errorf("%s: %w", sourceName(r), ErrNoRows)
		}
		key := Fingerprint(r)
		if before, again := seen[key]; again {
			what := "the same rows as"
			for _, o := range list {
				if len(r.Sources) == 1 && o.Sources[0].SHA256 == r.Sources[0].SHA256 {
					what = "the same bytes as"
				}
			}
			f := lineFinding(quality.Sources, sounding.Note, 0, 0)
			f.Sentence = fmt.Sprintf("source %s holds %s %s: it is taken once", shown(sourceName(r)), what, shown(before))
			findings = append(findings, f)
			continue
		}
		seen[key] = sourceName(r)
		list = append(list, r)
	}
	sources := 0
	for _, r := range list {
		sources += len(r.Sources)
	}
	if sources > 255 {
		return nil, fmt.Errorf("%d sources, more than the 255 one flight can have", sources)
	}
	if len(list) == 1 {
		out := *list[0]
		out.Findings = append(append([]sounding.Finding(nil), out.Findings...), findings...)
		located(&out, out.Findings)
		sounding.NumberIDs(out.Findings)
		return &out, nil
	}
	j := joiner{epoch: list[0].Epoch}
	for _, r := range list[1:] {
		if r.Epoch.Before(j.epoch) {
			j.epoch = r.Epoch
		}
	}
	for _, r := range list {
		j.add(r)
	}
	if err := j.together(); err != nil {
		return nil, err
	}
	j.merge()
	out := j.build()
	out.Findings = append(out.Findings, findings...)
	out.Findings = append(out.Findings, j.findings...)
	located(out, out.Findings)
	sounding.NumberIDs(out.Findings)
	if err := out.Columns.Validate(); err != nil {
		return nil, err
	}
	return out, nil
}

func sourceName(r *sounding.Raw) string {
	if len(r.Sources) == 0 {
		return "without a name"
	}
	return r.Sources[0].Name
}

// joined is one source on the common clock.
type joinedSource struct {
	raw     *sounding.Raw
	time    []float64
	spacing float64
	full    []int16 // values in each row
	now     []int   // row in the result, -1 where another source's row is taken
	first   int     // index of its first source in the result
}

type joiner struct {
	epoch    time.Time
	list     []joinedSource
	rows     []joinedRow
	findings []sounding.Finding
}

type joinedRow struct {
	time   float64
	source int
	row    int
}

func (j *joiner) add(r *sounding.Raw) {
	s := joinedSource{raw: r, spacing: usualSpacing(r.Time, defaultJumpLimit)}
	shift := r.Epoch.Sub(j.epoch).Seconds()
	s.time = make([]float64, r.Len())
	s.full = make([]int16, r.Len())
	s.now = make([]int, r.Len())
	for i, t := range r.Time {
		s.time[i] = t + shift
		s.now[i] = -1
	}
	for k := range r.Series {
		for i, x := range r.Series[k].Values {
			if !math.IsNaN(x) {
				s.full[i]++
			}
		}
	}
	if n := len(j.list); n > 0 {
		s.first = j.list[n-1].first + len(j.list[n-1].raw.Sources)
	}
	j.list = append(j.list, s)
}

// together refuses sources that cannot be one flight.
func (j *joiner) together() error {
	order := make([]int, len(j.list))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return j.list[order[a]].time[0] < j.list[order[b]].time[0] })
	end := j.list[order[0]].time[len(j.list[order[0]].time)-1]
	for k, i := range order[1:] {
		s := &j.list[i]
		if d := s.time[0] - end; d > farApart {
			return fmt.Errorf("sources %s and %s lie %.1f h apart and cannot be one flight: give each its own, or look at their clocks", sourceName(j.list[order[k]].raw), sourceName(s.raw), d/3600)
		}
		end = math.Max(end, s.time[len(s.time)-1])
	}
	return nil
}

// overlap collects what two sources have in common.
type overlap struct {
	a, b        int
	from, to    float64
	rows, taken int
	largest     map[sounding.Variable]float64
}

func (j *joiner) merge() {
	n := 0
	for i := range j.list {
		n += len(j.list[i].time)
	}
	all := make([]joinedRow, 0, n)
	for i := range j.list {
		for k, t := range j.list[i].time {
			all = append(all, joinedRow{t, i, k})
		}
	}
	sort.SliceStable(all, func(a, b int) bool { return all[a].time < all[b].time })
	overlaps := map[[2]int]*overlap{}
	for i := 0; i < len(all); {
		// Rows that are one instant.
		k := i + 1
		reach := all[i].time + sameRowShare*j.list[all[i].source].spacing
		for k < len(all) && all[k].time < reach {
			k++
		}
		group := all[i:k]
		best := group[0]
		mixed := false
		for _, g := range group[1:] {
			mixed = mixed || g.source != best.source
		}
		if !mixed {
			// One source alone: only rows of the very same time stay together here.
			j.rows = append(j.rows, group[0])
			i++
			continue
		}
		for _, g := range group[1:] {
			gf, bf := j.list[g.source].full[g.row], j.list[best.source].full[best.row]
			if gf > bf || gf == bf && g.source < best.source {
				best = g
			}
		}
		for _, g := range group {
			if g.source == best.source {
				j.rows = append(j.rows, g)
				continue
			}
			a, b := best.source, g.source
			if a > b {
				a, b = b, a
			}
			o := overlaps[[2]int{a, b}]
			if o == nil {
				o = &overlap{a: a, b: b, from: g.time, largest: map[sounding.Variable]float64{}}
				overlaps[[2]int{a, b}] = o
			}
			o.rows++
			if best.source == b {
				o.taken++
			}
			o.to = g.time
			j.compare(o, best, g)
		}
		i = k
	}
	sort.SliceStable(j.rows, func(a, b int) bool { return j.rows[a].time < j.rows[b].time })
	for k, r := range j.rows {
		j.list[r.source].now[r.row] = k
	}
	for b := range j.list {
		for a := range b {
			if o := overlaps[[2]int{a, b}]; o != nil {
				j.nameOverlap(o)
			}
			j.clocks(a, b)
		}
	}
	j.nameGaps()
	j.serials()
}

func (j *joiner) compare(o *overlap, x, y joinedRow) {
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.HumidityA, sounding.HumidityB} {
		p, q := j.list[x.source].raw.Values(v), j.list[y.source].raw.Values(v)
		if p == nil || q == nil {
			continue
		}
		if d := math.Abs(p[x.row] - q[y.row]); d > o.largest[v] {
			o.largest[v] = d
		}
	}
}

func (j *joiner) nameOverlap(o *overlap) {
	severity := sounding.Note
	words := ""
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.HumidityA, sounding.HumidityB} {
		d := o.largest[v]
		limit := humidityApart
		switch v {
		case sounding.Pressure:
			limit = pressureApart
		case sounding.Temperature:
			limit = temperatureApart
		}
		if d > 0 {
			words += fmt.Sprintf(", %s by up to %s %s", v.Info().Label, formatShort(math.Round(d*100)/100), v.Info().Unit)
		}
		if d > limit {
			severity = sounding.Questionable
		}
	}
	if words == "" {
		words = ", and agree there"
	} else {
		words = ", and differ there" + words[1:]
	}
	first := sort.Search(len(j.rows), func(i int) bool { return j.rows[i].time >= o.from })
	last := sort.Search(len(j.rows), func(i int) bool { return j.rows[i].time > o.to })
	f := lineFinding(quality.Sources, severity, 0, 0)
	f.Spans = []sounding.Span{{From: first, To: max(last, first+1)}}
	f.Measured, f.Unit = sounding.Number(o.rows), "rows"
	f.Sentence = fmt.Sprintf("sources %s and %s overlap in %d rows%s; the row with more values is taken, %d of them from %s", shown(sourceName(j.list[o.a].raw)), shown(sourceName(j.list[o.b].raw)), o.rows, words, o.taken, shown(sourceName(j.list[o.b].raw)))
	j.findings = append(j.findings, f)
}

// clocks compares the clocks of two sources where both saw the same air: by frame
// counter, or by pressure or height while they change.
func (j *joiner) clocks(a, b int) {
	x, y := &j.list[a], &j.list[b]
	var d []float64
	how := ""
	if fa, fb := x.raw.Values(sounding.Frame), y.raw.Values(sounding.Frame); fa != nil && fb != nil {
		at := map[float64]float64{}
		for i, f := range fa {
			if !math.IsNaN(f) {
				at[f] = x.time[i]
			}
		}
		for i, f := range fb {
			if t, ok := at[f]; ok {
				d = append(d, y.time[i]-t)
			}
		}
		how = "frame counters"
	}
	if len(d) < clockMatches {
		for _, v := range []sounding.Variable{sounding.HeightEllipsoid, sounding.HeightMSL, sounding.GeopotentialHeight, sounding.Pressure} {
			va, vb := x.raw.Values(v), y.raw.Values(v)
			if va == nil || vb == nil {
				continue
			}
			d = crossings(x.time, va, y.time, vb)
			how = v.Info().Label
			break
		}
	}
	if len(d) < clockMatches {
		return
	}
	sort.Float64s(d)
	median, spread := d[len(d)/2], d[len(d)*3/4]-d[len(d)/4]
	limit := math.Max(clockLimit, 2*math.Max(x.spacing, y.spacing))
	if math.Abs(median) <= limit || spread > math.Max(2, 0.2*math.Abs(median)) {
		return
	}
	var rows []int
	for _, k := range y.now {
		if k >= 0 {
			rows = append(rows, k)
		}
	}
	sort.Ints(rows)
	f := lineFinding(quality.Sources, sounding.Questionable, 0, 0)
	f.Spans = rowSpans(rows)
	f.Measured, f.Limit, f.Unit = sounding.Number(median), sounding.Number(limit), "s"
	direction := "ahead of"
	if median < 0 {
		direction = "behind"
	}
	f.Sentence = fmt.Sprintf("the clock of source %s is %s s %s that of %s by their %s (%d rows agree): nothing is shifted; look which clock is right", shown(sourceName(y.raw)), secondsText(math.Round(math.Abs(median)*10)/10), direction, shown(sourceName(x.raw)), how, len(d))
	j.findings = append(j.findings, f)
}

// crossings returns for values of b the time at which b had them minus the time at
// which a had them, over stretches where a goes steadily one way.
func crossings(ta, va, tb, vb []float64) []float64 {
	// a's longest climb (or fall, for pressure) as a table: only rows beyond all before.
	sign := 0.0
	first, last := math.NaN(), math.NaN()
	for _, v := range va {
		if !math.IsNaN(v) {
			if math.IsNaN(first) {
				first = v
			}
			last = v
		}
	}
	top, bottom := math.Inf(-1), math.Inf(1)
	for _, v := range va {
		if !math.IsNaN(v) {
			top, bottom = math.Max(top, v), math.Min(bottom, v)
		}
	}
	if math.IsNaN(first) || top == bottom {
		return nil
	}
	sign = 1
	if top-first < first-bottom || last < first && top-first < (top-bottom)/4 {
		sign = -1
	}
	var time, value []float64
	peak := math.Inf(-1)
	for i, v := range va {
		if s := v * sign; s > peak {
			peak = s
			time, value = append(time, ta[i]), append(value, s)
		}
	}
	if len(value) < clockMatches {
		return nil
	}
	low := value[0] + 0.02*(value[len(value)-1]-value[0]) // the ground is no place to compare clocks
	var d []float64
	reached := math.Inf(-1)
	for i, v := range vb {
		s := v * sign
		if math.IsNaN(s) || s <= reached {
			continue
		}
		reached = s
		if s <= low || s > value[len(value)-1] {
			continue
		}
		k := sort.SearchFloat64s(value, s)
		if k == 0 || time[k]-time[k-1] > 20 {
			continue
		}
		w := (s - value[k-1]) / (value[k] - value[k-1])
		d = append(d, tb[i]-(time[k-1]+w*(time[k]-time[k-1])))
	}
	return d
}

// nameGaps names the time between sources that do not overlap.
func (j *joiner) nameGaps() {
	for k := 1; k < len(j.rows); k++ {
		a, b := j.rows[k-1], j.rows[k]
		if a.source == b.source {
			continue
		}
		gap := b.time - a.time
		if gap <= 5*math.Max(j.list[a.source].spacing, j.list[b.source].spacing) {
			continue
		}
		f := lineFinding(quality.Sources, sounding.Note, 0, 0)
		f.Spans = []sounding.Span{{From: k, To: k + 1}}
		f.Measured, f.Unit = sounding.Number(gap), "s"
		f.Sentence = fmt.Sprintf("%s s are missing between the rows of source %s and those of %s", secondsText(math.Round(gap*10)/10), shown(sourceName(j.list[a.source].raw)), shown(sourceName(j.list[b.source].raw)))
		j.findings = append(j.findings, f)
	}
}

// serials doubts sources that name different radiosondes.
func (j *joiner) serials() {
	name, from := "", ""
	for i := range j.list {
		r := j.list[i].raw.Record
		if r == nil || r.Radiosonde.Serial == "" {
			continue
		}
		if name == "" {
			name, from = r.Radiosonde.Serial, sourceName(j.list[i].raw)
			continue
		}
		if r.Radiosonde.Serial != name {
			f := lineFinding(quality.Sources, sounding.Questionable, 0, 0)
			f.Field = "radiosonde.serial"
			f.Sentence = fmt.Sprintf("source %s names radiosonde %s and source %s names %s: they may be two flights", shown(from), shown(name), shown(sourceName(j.list[i].raw)), shown(r.Radiosonde.Serial))
			j.findings = append(j.findings, f)
		}
	}
}

// build makes the joined flight.
func (j *joiner) build() *sounding.Raw {
	n := len(j.rows)
	out := &sounding.Raw{Epoch: j.epoch}
	out.Time, out.Line, out.Source = make([]float64, n), make([]int32, n), make([]uint8, n)
	for k, r := range j.rows {
		s := &j.list[r.source]
		out.Time[k] = r.time
		out.Line[k] = s.raw.Line[r.row]
		out.Source[k] = uint8(s.first) + s.raw.Source[r.row]
	}
	series := map[sounding.Variable]int{}
	type extraKey struct {
		name string
		text bool
	}
	extras := map[extraKey]int{}
	for i := range j.list {
		s := &j.list[i]
		out.Sources = append(out.Sources, s.raw.Sources...)
		for _, x := range s.raw.Series {
			at, ok := series[x.Variable]
			if !ok {
				at = len(out.Series)
				series[x.Variable] = at
				out.Series = append(out.Series, sounding.Series{Variable: x.Variable, Values: nans(n)})
			}
			for row, k := range s.now {
				if k >= 0 {
					out.Series[at].Values[k] = x.Values[row]
				}
			}
		}
		for _, x := range s.raw.Extra {
			key := extraKey{x.Name, x.Text != nil}
			at, ok := extras[key]
			if !ok {
				at = len(out.Extra)
				extras[key] = at
				e := sounding.Extra{Name: x.Name, Unit: x.Unit}
				if _, other := extras[extraKey{x.Name, !key.text}]; other {
					e.Name += "_2"
				}
				if key.text {
					e.Text = make([]string, n)
				} else {
					e.Values = nans(n)
				}
				out.Extra = append(out.Extra, e)
			}
			for row, k := range s.now {
				switch {
				case k < 0:
				case key.text:
					out.Extra[at].Text[k] = x.Text[row]
				default:
					out.Extra[at].Values[k] = x.Values[row]
					if x.Name == SourceTimeColumn {
						out.Extra[at].Values[k] += s.raw.Epoch.Sub(j.epoch).Seconds()
					}
				}
			}
		}
		for _, f := range s.raw.Findings {
			if len(f.Spans) > 0 {
				var rows []int
				for _, span := range f.Spans {
					for i := span.From; i < span.To && i < len(s.now); i++ {
						if s.now[i] >= 0 {
							rows = append(rows, s.now[i])
						}
					}
				}
				sort.Ints(rows)
				if f.Spans = rowSpans(rows); len(rows) == 0 {
					continue
				}
			}
			f.ID = ""
			if s.raw.Sources[0].Name != "" {
				f.Sentence = shown(s.raw.Sources[0].Name) + ": " + f.Sentence
			}
			out.Findings = append(out.Findings, f)
		}
		out.Record = mergeRecords(out.Record, s.raw.Record)
	}
	return out
}

// mergeRecords fills what a does not say from b; neither is changed.
func mergeRecords(a, b *sounding.LaunchRecord) *sounding.LaunchRecord {
	if a == nil {
		return b.Clone()
	}
	if b == nil {
		return a
	}
	out := a.Clone()
	for i := range sounding.RecordFields {
		f := &sounding.RecordFields[i]
		switch {
		case f.Number != nil:
			if !f.Number(out).Set() {
				*f.Number(out) = *f.Number(b)
			}
		case f.Text != nil:
			if *f.Text(out) == "" {
				*f.Text(out) = *f.Text(b)
			}
		default:
			if f.Instant(out).IsZero() {
				*f.Instant(out) = *f.Instant(b)
			}
		}
	}
	if len(out.Ticks) == 0 {
		out.Ticks = slices.Clone(b.Ticks)
	}
	return out
}

func nans(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.NaN()
	}
	return out
}
