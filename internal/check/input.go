package check

import (
	"fmt"
	"math"
	"sort"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// input is what one check is given: the columns and what all checks need to know
// about them. Checks read it and change nothing but its caches.
type input struct {
	ctx    *sounding.Context
	cols   *sounding.Columns
	before *sounding.Columns // raw values with flags, in the second pass; else nil
	set    *Settings
	stage  string // raw or corrected
	n      int

	time     []float64     // s since release; never falls
	others   []bool        // rows of another radiosonde, without values in cols; nil where there are none
	broken   []bool        // rows whose own time breaks the order; nil where there are none
	flight   sounding.Span // release to landing or the end; every row where no release is known
	ascent   sounding.Span
	descent  sounding.Span
	interval float64   // s, median between rows of the flight
	heights  []float64 // m above mean sea level as findings give them, nil where not known

	rise, pressure []float64 // see riseOf and pressureOf
	risen, pressed bool
	ice            []float64
	windU, windV   []float64
	windFrom       []sounding.Variable
	winded         bool
	cache          [sounding.NumVariables]*samples
	numbers        []int32
	measuring      [2][]bool
	whyNot         [2]string
	measured       [2]bool
	humidOf        []float64
	humidFrom      sounding.Variable
	measureSpans   [2][]sounding.Span
	tropopause     int
	troposphered   bool
}

func newInput(ctx *sounding.Context, before, cols *sounding.Columns, set *Settings, stage string) *input {
	in := &input{ctx: ctx, cols: cols, before: before, set: set, stage: stage, n: cols.Len(), tropopause: -1}
	whole := sounding.Span{From: 0, To: in.n}
	in.leaveOut(ctx.Others)
	in.order()
	in.flight, in.ascent = whole, whole
	if ctx.Events.Release.Found {
		in.flight = sounding.Span{From: ctx.Events.Release.Row, To: in.n}.Clip(whole)
		if ctx.Events.Release.Time.Value() > 0.5 && in.n > 0 && in.time[in.n-1] < ctx.Events.Release.Time.Value() {
			in.flight.From = in.n
		}
		in.ascent = ctx.Events.Ascent().Clip(whole)
		in.descent = ctx.Events.Descent().Clip(whole)
		for _, p := range ctx.Events.Phases {
			if p.Phase == sounding.AfterLanding {
				in.flight.To = max(in.flight.From, min(in.flight.To, p.From))
			}
		}
	}
	in.interval = usualInterval(in.time[in.flight.From:in.flight.To])
	in.heights = in.present(sounding.HeightMSL)
	if in.heights == nil {
		in.heights = in.present(sounding.GeopotentialHeight)
	}
	return in
}

// leaveOut takes the rows of another radiosonde out of the evidence.
func (in *input) leaveOut(spans []sounding.Span) {
	if len(spans) == 0 {
		return
	}
	own := in.cols.Without(spans)
	in.cols = &own
	if in.before != nil {
		before := in.before.Without(spans)
		in.before = &before
	}
	in.others = make([]bool, in.n)
	for _, s := range spans {
		s = s.Clip(sounding.Span{From: 0, To: in.n})
		for i := s.From; i < s.To; i++ {
			in.others[i] = true
		}
	}
}

// present returns the values of v, nil where there is not one.
func (in *input) present(v sounding.Variable) []float64 {
	values := in.cols.Values(v)
	for _, x := range values {
		if !math.IsNaN(x) {
			return values
		}
	}
	return nil
}

// order finds rows whose time breaks the order and makes a time that never falls.
func (in *input) order() {
	t := in.cols.Time
	in.time = t
	sorted := true
	for i := 1; i < len(t); i++ {
		if t[i] < t[i-1] {
			sorted = false
			break
		}
	}
	if sorted {
		return
	}
	in.broken = brokenOrder(t)
	in.time = make([]float64, len(t))
	last := math.Inf(-1)
	for i, x := range t {
		if !in.broken[i] {
			last = x
		}
		in.time[i] = last
	}
	// Broken rows at the start take the first good time.
	for i := range in.time {
		if !math.IsInf(in.time[i], -1) {
			for j := 0; j < i; j++ {
				in.time[j] = in.time[i]
			}
			break
		}
	}
}

// brokenOrder marks the fewest rows that have to go for the rest never to fall: all
// but a longest non-falling subsequence (patience sorting).
func brokenOrder(t []float64) []bool {
	tails := make([]int, 0, len(t)) // row that ends the best subsequence of each length
	link := make([]int, len(t))
	for i, x := range t {
		k := sort.Search(len(tails), func(j int) bool { return t[tails[j]] > x })
		link[i] = -1
		if k > 0 {
			link[i] = tails[k-1]
		}
		if k == len(tails) {
			tails = append(tails, i)
		} else {
			tails[k] = i
		}
	}
	broken := make([]bool, len(t))
	for i := range broken {
		broken[i] = true
	}
	if len(tails) > 0 {
		for i := tails[len(tails)-1]; i >= 0; i = link[i] {
			broken[i] = false
		}
	}
	return broken
}

// usualInterval is the median step between rows in seconds, of some 500 of them; 1 where
// there is none.
func usualInterval(time []float64) float64 {
	steps := make([]float64, 0, 500)
	stride := max(1, len(time)/500)
	for i := 1; i < len(time); i += stride {
		if dt := time[i] - time[i-1]; dt > 0 {
			steps = append(steps, dt)
		}
	}
	if m := smooth.Median(steps, nil); m > 0 {
		return m
	}
	return 1
}

// ChosenLevels tells whether rows at these times, s, are the levels of a report, chosen
// where the profile bends, rather than a record at regular times. What is missing between
// two levels, or on one of them, is then not lost.
func (s *Settings) ChosenLevels(time []float64) bool { return usualInterval(time) > s.Gap.Chosen }

// rows returns how many rows last so long.
func (in *input) rows(seconds float64) int { return int(math.Ceil(seconds / in.interval)) }

// samples are the usable values of one variable in flight, without holes.
type samples struct {
	v    sounding.Variable
	t, x []float64
	row  []int32
}

func (s *samples) len() int { return len(s.t) }

// span returns the rows of samples [i, j).
func (s *samples) span(i, j int) sounding.Span {
	return sounding.Span{From: int(s.row[i]), To: int(s.row[j-1]) + 1}
}

// of returns the samples of v in flight that are present, in order and not bad; for
// humidity sensors A and B only those taken while the sensor measures. nil where the
// flight has none.
func (in *input) of(v sounding.Variable) *samples {
	if s := in.cache[v]; s != nil {
		return s
	}
	s := &samples{v: v}
	in.cache[v] = s
	series := in.cols.Get(v)
	if series == nil {
		return s
	}
	var measuring []bool
	if v == sounding.HumidityA || v == sounding.HumidityB {
		measuring, _ = in.measures(v)
	}
	if measuring == nil && in.whole(series, in.flight) {
		s.t, s.x, s.row = in.time[in.flight.From:in.flight.To], series.Values[in.flight.From:in.flight.To], in.rowNumbers(in.flight)
		return s
	}
	n := in.flight.Len()
	block := make([]float64, 2*n)
	s.t, s.x, s.row = block[:0:n], block[n:n:2*n], make([]int32, 0, n)
	for i := in.flight.From; i < in.flight.To; i++ {
		x := series.Values[i]
		if math.IsNaN(x) || in.broken != nil && in.broken[i] || measuring != nil && !measuring[i] {
			continue
		}
		if series.Flags != nil && series.Flags[i] == quality.Bad {
			continue
		}
		s.t, s.x, s.row = append(s.t, in.time[i]), append(s.x, x), append(s.row, int32(i))
	}
	return s
}

// whole tells whether every row of span holds a usable value, so that samples can
// share the columns instead of copying them.
func (in *input) whole(s *sounding.Series, span sounding.Span) bool {
	if in.broken != nil {
		return false
	}
	for i := span.From; i < span.To; i++ {
		if x := s.Values[i]; x != x || s.Flags != nil && s.Flags[i] == quality.Bad {
			return false
		}
	}
	return true
}

// rowNumbers returns the numbers of the rows of span.
func (in *input) rowNumbers(span sounding.Span) []int32 {
	if in.numbers == nil {
		in.numbers = make([]int32, in.n)
		for i := range in.numbers {
			in.numbers[i] = int32(i)
		}
	}
	return in.numbers[span.From:span.To]
}

// fill returns values with holes bridged linearly in time and the ends held, nil
// where there is not one value to start from.
func (in *input) fill(values []float64) []float64 {
	if values == nil {
		return nil
	}
	out := make([]float64, in.n)
	last := -1
	for i, x := range values {
		if math.IsNaN(x) || in.broken != nil && in.broken[i] {
			continue
		}
		out[i] = x
		switch {
		case last < 0:
			for j := range i {
				out[j] = x
			}
		case i-last > 1:
			dt := in.time[i] - in.time[last]
			for j := last + 1; j < i; j++ {
				w := float64(j-last) / float64(i-last)
				if dt > 0 {
					w = (in.time[j] - in.time[last]) / dt
				}
				out[j] = out[last] + w*(x-out[last])
			}
		}
		last = i
	}
	if last < 0 {
		return nil
	}
	for j := last + 1; j < in.n; j++ {
		out[j] = out[last]
	}
	return out
}

// riseOf returns a height in m for every row: measured, else by the standard
// atmosphere from pressure; nil where there is neither.
func (in *input) riseOf() []float64 {
	if in.risen {
		return in.rise
	}
	in.risen = true
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.GeopotentialHeight, sounding.HeightEllipsoid} {
		if in.rise = in.fill(in.present(v)); in.rise != nil {
			return in.rise
		}
	}
	if p := in.fill(in.present(sounding.Pressure)); p != nil {
		in.rise = make([]float64, in.n)
		for i, x := range p {
			in.rise[i] = earth.StandardAltitude(max(x, 0.1))
		}
	}
	return in.rise
}

// pressureOf returns a pressure in hPa for every row: measured, else by the standard
// atmosphere from height; nil where there is neither.
func (in *input) pressureOf() []float64 {
	if in.pressed {
		return in.pressure
	}
	in.pressed = true
	if in.pressure = in.fill(in.present(sounding.Pressure)); in.pressure != nil {
		return in.pressure
	}
	if z := in.riseOf(); z != nil {
		in.pressure = make([]float64, in.n)
		for i, x := range z {
			_, in.pressure[i], _ = earth.StandardAtmosphere(min(max(x, -1000), 80000))
		}
	}
	return in.pressure
}

// wind returns the components in m/s on every row and the variables they come from:
// components, else speed and direction, else the radiosonde's own velocity; nil
// where there are none.
func (in *input) wind() (u, v []float64, from []sounding.Variable) {
	if in.winded {
		return in.windU, in.windV, in.windFrom
	}
	in.winded = true
	for _, pair := range [][2]sounding.Variable{{sounding.WindU, sounding.WindV}, {sounding.WindSpeed, sounding.WindDirection}, {sounding.VelocityEast, sounding.VelocityNorth}} {
		a, b := in.present(pair[0]), in.present(pair[1])
		if a == nil || b == nil {
			continue
		}
		in.windFrom = pair[:]
		if pair[0] != sounding.WindSpeed {
			in.windU, in.windV = a, b
			break
		}
		in.windU, in.windV = make([]float64, in.n), make([]float64, in.n)
		for i := range a {
			in.windU[i], in.windV[i] = math.NaN(), math.NaN()
			if !math.IsNaN(a[i]) && !math.IsNaN(b[i]) {
				in.windU[i], in.windV[i] = earth.UVFromWind(a[i], b[i])
			}
		}
		break
	}
	return in.windU, in.windV, in.windFrom
}

// place says where spans lie: "from 2.1 to 3.4 km", "at 14.1 km", in hPa or s after
// release where heights are not known.
func (in *input) place(spans ...sounding.Span) string {
	if len(spans) == 0 {
		return ""
	}
	a, b := spans[0].From, spans[len(spans)-1].To-1
	a, b = min(max(a, 0), in.n-1), min(max(b, 0), in.n-1)
	suffix := ""
	switch {
	case in.descent.Contains(a):
		suffix = " of the descent"
	case in.ctx.Events.Release.Found && a < in.flight.From:
		suffix = " before release"
	}
	if z := in.riseOf(); z != nil {
		low, high := min(z[a], z[b]), max(z[a], z[b])
		switch {
		case high < 995:
			if high-low < 10 {
				return fmt.Sprintf("at %.0f m", z[a]) + suffix
			}
			return fmt.Sprintf("from %.0f to %.0f m", z[a], z[b]) + suffix
		case high-low < 100:
			return fmt.Sprintf("at %.1f km", z[a]/1000) + suffix
		}
		return fmt.Sprintf("from %.1f to %.1f km", z[a]/1000, z[b]/1000) + suffix
	}
	ta, tb := in.time[a], in.time[b]
	if tb-ta < 1 {
		return fmt.Sprintf("%.0f s after release", ta)
	}
	return fmt.Sprintf("from %.0f to %.0f s after release", ta, tb)
}

// builder gathers the report of one check.
type builder struct {
	in    *input
	check quality.Check
	rep   sounding.Report
}

func (in *input) begin(check quality.Check) *builder { return &builder{in: in, check: check} }

// ran notes that the check ran on a variable over the flight.
func (b *builder) ran(v sounding.Variable) { b.covered(v, []sounding.Span{b.in.flight}) }

// covered notes that the check ran on a variable over spans.
func (b *builder) covered(v sounding.Variable, spans []sounding.Span) {
	if spans == nil {
		spans = []sounding.Span{}
	}
	b.rep.Runs = append(b.rep.Runs, sounding.CheckRun{Check: b.check, Variable: v, Ran: true, Covered: spans})
}

// skipped notes why the check did not run on a variable.
func (b *builder) skipped(v sounding.Variable, why string) {
	b.rep.Runs = append(b.rep.Runs, sounding.CheckRun{Check: b.check, Variable: v, Why: why})
}

// fact is what a check found.
type fact struct {
	variable  sounding.Variable
	severity  sounding.Severity
	spans     []sounding.Span
	unflagged bool // the spans say where, but no sample there is doubted
	measured  float64
	limit     float64
	unit      string
	field     string
	sentence  string
}

// find adds a finding, located.
func (b *builder) find(f fact) {
	x := sounding.Finding{Check: b.check, Variable: f.variable, Severity: f.severity, Stage: b.in.stage, Spans: f.spans,
		Measured: sounding.Number(f.measured), Limit: sounding.Number(f.limit), Unit: f.unit, Field: f.field, Sentence: f.sentence}
	x = sounding.Locate(x, b.in.cols, b.in.heights, b.in.ctx.Epoch)
	if f.unflagged {
		x.Spans = nil
	}
	b.rep.Findings = append(b.rep.Findings, x)
}

// name is how sentences call a variable.
func name(v sounding.Variable) string {
	switch v {
	case sounding.HumidityA:
		return "humidity sensor A"
	case sounding.HumidityB:
		return "humidity sensor B"
	case sounding.Humidity:
		return "humidity"
	case sounding.WindU, sounding.WindV, sounding.WindSpeed, sounding.WindDirection:
		return "wind"
	case sounding.VelocityEast, sounding.VelocityNorth:
		return "radiosonde velocity"
	case sounding.HeightMSL, sounding.HeightEllipsoid:
		return "height"
	case sounding.Latitude, sounding.Longitude:
		return "position"
	}
	l := v.Info().Label
	if l == "" {
		return v.String()
	}
	if l[0] >= 'A' && l[0] <= 'Z' {
		return string(l[0]-'A'+'a') + l[1:]
	}
	return l
}

// show writes a value of v as a reader expects it, with its unit: temperatures in °C.
func show(v sounding.Variable, x float64) string {
	switch v.Info().Unit {
	case "K":
		return fmt.Sprintf("%.1f °C", x-zeroCelsius)
	case "m s-1":
		return fmt.Sprintf("%.1f m/s", x)
	case "hPa":
		return fmt.Sprintf("%.4g hPa", x)
	case "%":
		return fmt.Sprintf("%.1f %%", x)
	case "m":
		return fmt.Sprintf("%.0f m", x)
	}
	return fmt.Sprintf("%.4g", x)
}

// unitOf is the unit of differences of v in sentences.
func unitOf(v sounding.Variable) string {
	switch u := v.Info().Unit; u {
	case "m s-1":
		return "m/s"
	case "degree", "degrees_north", "degrees_east":
		return "°"
	default:
		return u
	}
}

// plural is "1 row" or "12 rows".
func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// total returns the number of rows in spans.
func total(spans []sounding.Span) int {
	n := 0
	for _, s := range spans {
		n += s.Len()
	}
	return n
}
