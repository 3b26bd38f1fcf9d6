package ingest

import (
	"fmt"
	"math"
	"sort"
	"strconv"

	"leadline/internal/sounding"
)

// defaultJumpLimit is the forward step, in s, above which a gap may be a clock that
// jumped (own choice: far above any row spacing, below the shortest zone error).
const defaultJumpLimit = 60

// fewRows is how many first rows may be outvoted by the others (own choice: ten
// minutes at 1 Hz).
const fewRows = 600

// ordered is the rows of a table with a time that never decreases.
type ordered struct {
	time     []float64
	order    []int     // order[i] is the old row in place i; nil where nothing moved
	moved    []int     // moved[old] is the new place; nil where nothing moved
	original []float64 // the source's times in the new order; nil where they are unchanged
	findings []sounding.Finding
}

// orderRows undoes clock jumps, spreads rows under coarse time stamps, puts late rows
// into place and names repeated times. Rules and limits: docs/methods/time-order.md.
func orderRows(t *table) ordered {
	limit := t.jumpLimit
	if limit <= 0 {
		limit = defaultJumpLimit
	}
	raw := t.time
	back, jump, same, falls := false, false, 0, 0
	for i := 1; i < len(raw); i++ {
		switch d := raw[i] - raw[i-1]; {
		case d < 0:
			back = true
			falls++
		case d == 0:
			same++
		case d > limit:
			jump = true
		}
	}
	if !back && !jump && same == 0 {
		return ordered{time: raw}
	}
	if steps := len(raw) - 1 - same; steps >= 10 && falls*10 >= steps*9 {
		return turnedRound(t, falls)
	}
	o := ordered{time: t.memory.copied(raw)}
	changed := false
	if back || jump {
		changed = o.undoJumps(t, limit)
	}
	if spread := o.spreadCoarse(t, limit); spread {
		changed = true
	}
	o.sortLate(t)
	if changed {
		o.original = raw
		if o.order != nil {
			o.original = pick(raw, o.order)
		} else {
			o.original = append([]float64(nil), raw...)
		}
	}
	o.nameRepeats(t)
	return o
}

// turnedRound orders a table whose rows run from the last to the first.
func turnedRound(t *table, falls int) ordered {
	n := len(t.time)
	r := *t
	r.time, r.line = make([]float64, n), make([]int32, n)
	r.series = make([]sounding.Series, len(t.series))
	for k, s := range t.series {
		r.series[k] = sounding.Series{Variable: s.Variable, Values: make([]float64, n)}
	}
	for i := range n {
		old := n - 1 - i
		r.time[i], r.line[i] = t.time[old], t.line[old]
		for k := range r.series {
			r.series[k].Values[i] = t.series[k].Values[old]
		}
	}
	o := orderRows(&r)
	if o.order == nil {
		o.order = make([]int, n)
		for i := range o.order {
			o.order[i] = i
		}
	}
	o.moved = make([]int, n)
	for i, k := range o.order {
		o.order[i] = n - 1 - k
		o.moved[n-1-k] = i
	}
	f := timeOrder(sounding.Note, fmt.Sprintf("the rows run from the last to the first: time falls in %d of %d steps; they are turned round", falls, n-1), sounding.Span{From: 0, To: n})
	f.Measured, f.Limit, f.Unit = sounding.Number(falls), 0, "rows"
	o.findings = append([]sounding.Finding{f}, o.findings...)
	return o
}

// clockEvidence is what tells a clock that jumped from rows that are late or lost.
type clockEvidence struct {
	spacing float64 // usual time from row to row, s
	limit   float64
	frame   []float64
	value   []float64 // height or pressure; nil where there is neither
	floor   float64   // of value: changes below say nothing
	budget  int       // rows that may still be looked ahead; a source of nothing but disorder must not cost its square
}

func newEvidence(t *table, limit float64) *clockEvidence {
	e := &clockEvidence{limit: limit, spacing: usualSpacing(t.time, limit), budget: 20*len(t.time) + 100_000}
	get := func(v sounding.Variable) []float64 {
		for i := range t.series {
			if t.series[i].Variable == v {
				return t.series[i].Values
			}
		}
		return nil
	}
	e.frame = get(sounding.Frame)
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid, sounding.GeopotentialHeight} {
		if e.value = get(v); e.value != nil {
			e.floor = 5
			return e
		}
	}
	if e.value = get(sounding.Pressure); e.value != nil {
		e.floor = 0.5
	}
	return e
}

// usualSpacing is the median of the forward steps up to limit; 1 s where there are none.
func usualSpacing(time []float64, limit float64) float64 {
	var d []float64
	for i := 1; i < len(time); i++ {
		if s := time[i] - time[i-1]; s > 0 && s <= limit {
			d = append(d, s)
		}
	}
	if len(d) == 0 {
		return 1
	}
	sort.Float64s(d)
	return d[len(d)/2]
}

// frames returns how far the frame counter went from row a to b, false where it is
// not known or went nowhere a counter goes in that many rows.
func (e *clockEvidence) frames(a, b int) (float64, bool) {
	if e.frame == nil {
		return 0, false
	}
	d := e.frame[b] - e.frame[a]
	return d, !math.IsNaN(d)
}

// rate is the mean change of value for each second around row at, over up to 60
// rows on the side given by step (-1 before, 1 after), by the times given.
func (e *clockEvidence) rate(time []float64, at, step int) float64 {
	if e.value == nil {
		return math.NaN()
	}
	far := at
	for k := at; k >= 0 && k < len(time) && (k-at)*step <= 60; k += step {
		d := (time[k] - time[at]) * float64(step)
		if d < 0 || d > 61*e.spacing+e.limit {
			break
		}
		if !math.IsNaN(e.value[k]) {
			far = k
		}
	}
	if far == at || math.IsNaN(e.value[at]) || time[far] == time[at] {
		return math.NaN()
	}
	return (e.value[far] - e.value[at]) / (time[far] - time[at])
}

// undoJumps finds runs of rows whose clock was off and counts them into line with the
// longest run. It returns whether any time changed.
func (o *ordered) undoJumps(t *table, limit float64) bool {
	raw := t.time
	n := len(raw)
	e := newEvidence(t, limit)
	offset := make([]float64, n)
	wild := make([]bool, n)
	used := []float64{0}
	c, last, at := 0.0, raw[0], 0 // offset in force, corrected time of the last row in order, that row
	for i := 1; i < n; i++ {
		r := raw[i]
		d := r - c - last
		if d >= 0 && d <= limit {
			offset[i], last, at = c, r-c, i
			continue
		}
		expected := e.spacing
		if df, ok := e.frames(at, i); ok && df >= 1 && df*e.spacing <= limit {
			expected = df * e.spacing
		}
		// The clock as it was some rows ago?
		known := false
		for _, u := range used {
			if back := r - u - last; u != c && back >= 0 && back <= limit {
				c, known = u, true
				break
			}
		}
		if known {
			offset[i], last, at = c, r-c, i
			continue
		}
		if alone(raw, i, c, last, e) {
			if d > limit {
				offset[i] = r - (last + expected)
				wild[i] = true
				last, at = last+expected, i
			} else {
				offset[i] = c
			}
			continue
		}
		jumped := false
		if d > limit {
			jumped = e.jumpedAhead(raw, at, i, d)
		} else {
			jumped = e.setBack(t, at, i, c, last)
		}
		switch {
		case jumped:
			c = r - (last + expected)
			used = append(used, c)
			if len(used) > 64 {
				used = used[len(used)-64:]
			}
			offset[i], last, at = c, last+expected, i
		case d > limit: // a gap
			offset[i], last, at = c, r-c, i
		default: // a late row
			offset[i] = c
		}
	}
	// The clock of the first rows is the right one: it is the one that was set at the
	// desk, and the release hangs on it. Unless they are few or more than a day away:
	// then the clock that most rows agree on.
	count := map[float64]int{}
	for i, u := range offset {
		if !wild[i] {
			count[u]++
		}
	}
	reference, most := 0.0, count[0]
	for _, u := range used {
		few := count[0] < fewRows || count[0]*10 < n
		if count[u] > most && (few || math.Abs(u) > daySeconds) {
			reference, most = u, count[u]
		}
	}
	changed := false
	for i := 0; i < n; {
		j := i + 1
		for j < n && offset[j] == offset[i] && wild[j] == wild[i] {
			j++
		}
		if shift := offset[i] - reference; shift != 0 {
			changed = true
			for k := i; k < j; k++ {
				o.time[k] = raw[k] - shift
			}
			severity := sounding.Note
			what := fmt.Sprintf("the clock of lines %d to %d is %s the rest", t.line[i], t.line[j-1], aheadOf(shift))
			if wild[i] {
				severity = sounding.Questionable
				what = fmt.Sprintf("the time of line %d is %s its neighbours", t.line[i], aheadOf(shift))
			}
			f := timeOrder(severity, what+": undone by counting rows; the source's own time is kept in "+SourceTimeColumn, sounding.Span{From: i, To: j})
			f.Measured, f.Limit, f.Unit = sounding.Number(shift), sounding.Number(limit), "s"
			o.findings = append(o.findings, f)
			if len(o.findings) > 200 {
				o.findings = o.findings[:200]
			}
		}
		i = j
	}
	return changed
}

func aheadOf(shift float64) string {
	if shift < 0 {
		return fmt.Sprintf("%s s behind", secondsText(-shift))
	}
	return fmt.Sprintf("%s s ahead of", secondsText(shift))
}

// secondsText writes seconds to the millisecond without an exponent.
func secondsText(s float64) string {
	return strconv.FormatFloat(math.Round(s*1000)/1000, 'f', -1, 64)
}

// alone tells whether the rows after i, at the latest the fifth, go on as if row i
// had not been: then it is one bad stamp, not a clock that jumped.
func alone(raw []float64, i int, c, last float64, e *clockEvidence) bool {
	back := raw[i]-c < last
	for k := i + 1; k < len(raw) && k <= i+5; k++ {
		if d := raw[k] - c - last; d >= 0 && d <= e.limit+e.spacing*float64(k-i) {
			// A clock that was set back a little gets there too, but step by step.
			return !back || raw[k]-raw[k-1] > 2*e.spacing
		}
	}
	return i == len(raw)-1 && raw[i]-c-last > daySeconds
}

// jumpedAhead tells whether a step ahead by d is the clock and not a gap: the frame
// counter went on by a row or few and height (or pressure) by what so many rows make,
// for another flight of the day may happen to go on counting there; or height (or pressure) did not change by a fifth
// of what it would have in that time. A step of more than a day is never a gap.
func (e *clockEvidence) jumpedAhead(raw []float64, a, b int, d float64) bool {
	if d > daySeconds {
		return true
	}
	if df, ok := e.frames(a, b); ok && df >= 1 {
		took := df * e.spacing
		return took <= e.limit && took < 0.2*d && e.goesOn(raw, a, b, took)
	}
	if e.value == nil || math.IsNaN(e.value[a]) || math.IsNaN(e.value[b]) {
		return false
	}
	before, after := e.rate(raw, a, -1), e.rate(raw, b, 1)
	if math.IsNaN(before) || math.IsNaN(after) {
		return false
	}
	would := math.Min(math.Abs(before), math.Abs(after)) * d
	return would > 10*e.floor && math.Abs(e.value[b]-e.value[a]) < math.Max(e.floor, 0.2*would) && before*after > 0
}

// goesOn tells whether height (or pressure) changes from row a to row b as it may in so
// many seconds: by something between the rates before and after, give or take as much
// and some noise. Where it is not known nothing speaks against it.
func (e *clockEvidence) goesOn(raw []float64, a, b int, took float64) bool {
	if e.value == nil || math.IsNaN(e.value[a]) || math.IsNaN(e.value[b]) {
		return true
	}
	before, after := e.rate(raw, a, -1), e.rate(raw, b, 1)
	if math.IsNaN(before) {
		before = after
	}
	if math.IsNaN(after) {
		after = before
	}
	if math.IsNaN(before) {
		return true
	}
	low, high := took*math.Min(before, after), took*math.Max(before, after)
	room := math.Max(4*e.floor, math.Max(math.Abs(low), math.Abs(high)))
	change := e.value[b] - e.value[a]
	return change >= low-room && change <= high+room
}

// setBack tells whether a step back at row b is the clock and not a late or sent-again
// row: the frame counter went on; or the following rows go on and what they measure
// joins the row before rather than the row of that time.
func (e *clockEvidence) setBack(t *table, a, b int, c, last float64) bool {
	raw := t.time
	if df, ok := e.frames(a, b); ok && df != 0 {
		return df > 0 && df*e.spacing <= e.limit
	}
	// Rows that go on: the next four (or all that are left, at least two) step forward.
	steps := 0
	for k := b + 1; k < len(raw) && k <= b+4; k++ {
		if d := raw[k] - raw[k-1]; d < 0 || d > e.limit {
			return false
		}
		steps++
	}
	if steps < 2 {
		return false
	}
	// A block of late rows ends in a jump back to where the time was.
	for k := b + 1; k < len(raw); k++ {
		if e.budget--; e.budget < 0 {
			return false
		}
		d := raw[k] - raw[k-1]
		if raw[k]-c > last {
			if d > 3*e.spacing && raw[k]-c-last <= e.limit && raw[k-1]-c < last-3*e.spacing {
				return false
			}
			break
		}
	}
	// The earlier row of the same time.
	k := sort.SearchFloat64s(raw[:a+1], raw[b]) // times before a may themselves be out of order: then this is only near
	k = min(k, a)
	if e.value != nil && !math.IsNaN(e.value[a]+e.value[b]+e.value[k]) {
		here, there := math.Abs(e.value[b]-e.value[a]), math.Abs(e.value[b]-e.value[k])
		if math.Abs(here-there) > e.floor/5 {
			return here < there
		}
	}
	// No measurement tells: a row that fits into a hole in the time is late.
	if k > 0 && raw[k] > raw[b] && raw[k]-raw[k-1] > 1.5*e.spacing {
		return false
	}
	for m := 0; m <= steps && k+m <= a && b+m < len(raw); m++ {
		if !sameRow(t, k+m, b+m) {
			return true
		}
	}
	return false
}

// sameRow tells whether two rows hold the same values.
func sameRow(t *table, a, b int) bool {
	for i := range t.series {
		x, y := t.series[i].Values[a], t.series[i].Values[b]
		if x != y && !(math.IsNaN(x) && math.IsNaN(y)) {
			return false
		}
	}
	return true
}

// spreadCoarse spreads rows evenly where the stamps are coarser than the rows: most
// rows stand under a time that repeats, in runs of about one length.
func (o *ordered) spreadCoarse(t *table, limit float64) bool {
	n := len(o.time)
	if n < 20 {
		return false
	}
	repeats, runs, copies := 0, 0, 0
	for i := 1; i < n; i++ {
		switch d := o.time[i] - o.time[i-1]; {
		case d == 0:
			repeats++
			if sameRow(t, i, i-1) {
				copies++
			}
		case d < 0:
			return false
		default:
			runs++
		}
	}
	if repeats*10 < n*3 || runs < 5 {
		return false
	}
	if copies*10 > repeats*8 {
		return false // every row stands there twice: that is no finer time
	}
	step := usualSpacing(o.time, limit)
	length := float64(n) / float64(runs+1)
	for i := 0; i < n; {
		j := i + 1
		for j < n && o.time[j] == o.time[i] {
			j++
		}
		if float64(j-i) > 2*length+1 {
			return false // a clock that stands still is another matter
		}
		i = j
	}
	for i := 0; i < n; {
		j := i + 1
		for j < n && o.time[j] == o.time[i] {
			j++
		}
		size := step
		if j < n {
			size = math.Min(size, o.time[j]-o.time[i])
		}
		start := o.time[i]
		places := math.Max(float64(j-i), math.Round(length))
		for k := i; k < j; k++ {
			o.time[k] = start + float64(k-i)/places*size
		}
		i = j
	}
	f := timeOrder(sounding.Note, fmt.Sprintf("%d of %d rows repeat the time before: the stamps (every %s s) are coarser than the rows (about %.1f a stamp), which are spread evenly; the source's own time is kept in %s", repeats, n, secondsText(step), length, SourceTimeColumn), sounding.Span{From: 0, To: n})
	f.Measured, f.Unit = sounding.Number(repeats), "rows"
	o.findings = append(o.findings, f)
	return true
}

// sortLate puts rows that came late into the place of their time.
func (o *ordered) sortLate(t *table) {
	n := len(o.time)
	var late []sounding.Span
	top := o.time[0]
	count := 0
	for i := 1; i < n; i++ {
		if o.time[i] >= top {
			top = o.time[i]
			continue
		}
		count++
		if k := len(late) - 1; k >= 0 && late[k].To == i {
			late[k].To++
		} else {
			late = append(late, sounding.Span{From: i, To: i + 1})
		}
	}
	if count == 0 {
		return
	}
	o.order = make([]int, n)
	for i := range o.order {
		o.order[i] = i
	}
	sort.SliceStable(o.order, func(a, b int) bool { return o.time[o.order[a]] < o.time[o.order[b]] })
	o.moved = make([]int, n)
	for i, k := range o.order {
		o.moved[k] = i
	}
	place := func(s sounding.Span) []sounding.Span {
		rows := make([]int, 0, s.Len())
		for i := s.From; i < s.To; i++ {
			rows = append(rows, o.moved[i])
		}
		sort.Ints(rows)
		return rowSpans(rows)
	}
	for i := range o.findings {
		var spans []sounding.Span
		for _, s := range o.findings[i].Spans {
			spans = append(spans, place(s)...)
		}
		o.findings[i].Spans = spans
	}
	for k, s := range late {
		if k == ungrouped && len(late) > ungrouped+1 {
			rows, lines := []int{}, lineSpans{}
			for _, s := range late[k:] {
				for i := s.From; i < s.To; i++ {
					rows = append(rows, o.moved[i])
					lines.add(int(t.line[i]))
				}
			}
			sort.Ints(rows)
			f := timeOrder(sounding.Note, fmt.Sprintf("%d more rows came late and were put into the place of their time: lines %s", len(rows), &lines), rowSpans(rows)...)
			f.Measured, f.Unit = sounding.Number(len(rows)), "rows"
			o.findings = append(o.findings, f)
			break
		}
		behind := 0.0
		peak := math.Inf(-1)
		for i := 0; i < s.From; i++ {
			peak = math.Max(peak, o.time[i])
		}
		behind = peak - o.time[s.From]
		words := fmt.Sprintf("line %d came", t.line[s.From])
		if s.Len() > 1 {
			words = fmt.Sprintf("%d rows, lines %d to %d, came", s.Len(), t.line[s.From], t.line[s.To-1])
		}
		f := timeOrder(sounding.Note, fmt.Sprintf("%s %s s late: put into the place of its time", words, secondsText(behind)), place(s)...)
		if s.Len() > 1 {
			f.Sentence = fmt.Sprintf("%s %s s late: put into the place of their time", words, secondsText(behind))
		}
		f.Measured, f.Limit, f.Unit = sounding.Number(behind), 0, "s"
		o.findings = append(o.findings, f)
	}
	o.time = pick(o.time, o.order)
}

// nameRepeats finds rows of the same time as the row before.
func (o *ordered) nameRepeats(t *table) {
	old := func(i int) int {
		if o.order != nil {
			return o.order[i]
		}
		return i
	}
	var rows []int
	same := 0
	lines := lineSpans{}
	for i := 1; i < len(o.time); i++ {
		if o.time[i] != o.time[i-1] {
			continue
		}
		rows = append(rows, i)
		lines.add(int(t.line[old(i)]))
		if sameRow(t, old(i), old(i-1)) {
			same++
		}
	}
	if len(rows) == 0 {
		return
	}
	what := "with other values"
	switch same {
	case len(rows):
		what = "with the same values"
	case 0:
	default:
		what = fmt.Sprintf("%d of them with the same values", same)
	}
	words := fmt.Sprintf("%d rows repeat the time of the row before, %s: the repeats, lines %s, are kept and bad", len(rows), what, &lines)
	if len(rows) == 1 {
		words = fmt.Sprintf("line %s repeats the time of the row before, %s: it is kept and bad", &lines, what)
	}
	f := timeOrder(sounding.Bad, words, rowSpans(rows)...)
	f.Measured, f.Limit, f.Unit = sounding.Number(len(rows)), 0, "rows"
	o.findings = append(o.findings, f)
}
