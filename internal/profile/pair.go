package profile

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// combined are the variables that two passages are combined in; what follows from them
// is computed anew.
var combined = []sounding.Variable{sounding.Temperature, sounding.Humidity, sounding.WindU, sounding.WindV,
	sounding.HeightMSL, sounding.GeopotentialHeight, sounding.Latitude, sounding.Longitude}

// pair is a flight's two passages on the levels of the ascent.
type pair struct {
	set  *Settings
	f    *sounding.Final
	rows []int // of the ascent's first passage
	up   *sounding.Final
	down *sounding.Final // the descent, pressure falling; nil where there is none
	way  []int           // rows of down whose pressure falls from each to the next
	lnp  []float64       // of way
	late []float64       // time of the descent at each level of the ascent, NaN where it has none
}

func newPair(f *sounding.Final, set *Settings) *pair {
	p := &pair{set: set, f: f, rows: firstPassage(f)}
	p.up = pick(f, p.rows)
	down, err := Descent(f, set)
	if err != nil {
		return p
	}
	p.down = down
	p.way = firstPassage(down)
	pressure := down.Values(sounding.Pressure)
	p.lnp = make([]float64, len(p.way))
	for k, i := range p.way {
		p.lnp[k] = math.Log(pressure[i])
	}
	return p
}

// sample is a value of one passage at a level.
type sample struct {
	value, independent, common, time float64
	flag                             quality.Flag
}

var nothing = sample{math.NaN(), math.NaN(), math.NaN(), math.NaN(), quality.Missing}

func part(x []float64, i int) float64 {
	if x == nil {
		return math.NaN()
	}
	return x[i]
}

// descentAt reads the descent at the levels lnp, falling: linear in ln p between the
// usable samples on both sides, not across a gap.
func (p *pair) descentAt(v sounding.Variable, lnp []float64) []sample {
	out := make([]sample, len(lnp))
	for i := range out {
		out[i] = nothing
	}
	s := p.down.Get(v)
	if s == nil {
		return out
	}
	below, next := -1, 0 // usable samples around the level
	advance := func() {
		below = next
		for next++; next < len(p.way) && !usable(s, p.way[next]); next++ {
		}
	}
	for next < len(p.way) && !usable(s, p.way[next]) {
		next++
	}
	for i, x := range lnp {
		for next < len(p.way) && p.lnp[next] > x {
			advance()
		}
		if next >= len(p.way) {
			break
		}
		b := p.way[next]
		if p.lnp[next] == x {
			out[i] = sample{s.Values[b], part(s.Independent, b), part(s.Common, b), p.down.Time[b], flagOf(s, b)}
			continue
		}
		if below < 0 {
			continue
		}
		a := p.way[below]
		if p.down.Time[a]-p.down.Time[b] > p.set.GapS || next > below+1 && math.Exp(p.lnp[below])-math.Exp(p.lnp[next]) >= p.set.GapHPa {
			continue
		}
		w := (p.lnp[below] - x) / (p.lnp[below] - p.lnp[next])
		to := s.Values[b]
		if v == sounding.Longitude {
			to = s.Values[a] + math.Remainder(to-s.Values[a], 360)
		}
		out[i] = sample{
			s.Values[a]*(1-w) + to*w,
			part(s.Independent, a)*(1-w) + part(s.Independent, b)*w, // as levels do: an upper bound
			part(s.Common, a)*(1-w) + part(s.Common, b)*w,
			p.down.Time[a]*(1-w) + p.down.Time[b]*w,
			quality.Worst(flagOf(s, a), flagOf(s, b)),
		}
	}
	return out
}

func flagOf(s *sounding.Series, i int) quality.Flag {
	if s.Flags == nil {
		return quality.NotEvaluated
	}
	return s.Flags[i]
}

// ascentAt is the ascent's own sample at level k.
func (p *pair) ascentAt(v sounding.Variable, k int) sample {
	s := p.up.Get(v)
	if s == nil || !usable(s, k) {
		return nothing
	}
	return sample{s.Values[k], part(s.Independent, k), part(s.Common, k), p.up.Time[k], flagOf(s, k)}
}

// levels returns ln p of the ascent's levels.
func (p *pair) levels() []float64 {
	pressure := p.up.Values(sounding.Pressure)
	out := make([]float64, len(pressure))
	for k, v := range pressure {
		out[k] = math.Log(v)
	}
	return out
}

// known is x, 0 where it is not known.
func known(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// changes returns for each level the mean square of the difference between the passages
// within the window, less what their independent errors and the difference of their
// common ones explain: the variance of the air's change between the two, in time and
// along the drift. 0 where the errors explain all, NaN where no level of the window has
// both.
func (p *pair) changes(lnp []float64, a, b []sample) []float64 {
	n := len(lnp)
	sum, count := make([]float64, n+1), make([]float64, n+1)
	for k := range lnp {
		sum[k+1], count[k+1] = sum[k], count[k]
		d := b[k].value - a[k].value
		if math.IsNaN(d) {
			continue
		}
		i, j, c := known(a[k].independent), known(b[k].independent), known(a[k].common)-known(b[k].common)
		sum[k+1] += d*d - i*i - j*j - c*c
		count[k+1]++
	}
	out := make([]float64, n)
	from, to := 0, 0
	half := 0.5 * p.set.WindowLnP
	for k := range lnp {
		for lnp[from] > lnp[k]+half {
			from++
		}
		for to < n && lnp[to] >= lnp[k]-half {
			to++
		}
		out[k] = math.NaN()
		if m := count[to] - count[from]; m > 0 {
			out[k] = math.Max(0, (sum[to]-sum[from])/m)
		}
	}
	return out
}

// weigh says how much of the descent goes into a level, 0 to 1, and the variance that is
// added for the air's change.
type weigh func(k int, a, b sample, change float64) (share, variance float64)

// combine makes the profile: at each level of the ascent one value of both passages. It
// returns how many of the levels with a temperature took something of the descent, and
// how many had both to choose from.
func (p *pair) combine(kind sounding.ProfileKind, w weigh) (out *sounding.Final, both, took int) {
	lnp := p.levels()
	n := len(lnp)
	final := *p.up
	out = &final
	out.Origin = sounding.ProfileOrigin{Kind: kind}
	out.Origin.GroundPressure, out.Origin.GroundHeight, out.Origin.GroundGeopotential = ground(p.f)
	out.Series = nil
	if s := p.up.Get(sounding.Pressure); s != nil {
		out.Series = append(out.Series, *s)
	}
	a, touched := make([]sample, n), make([]bool, n)
	for _, v := range combined {
		mine := p.up.Get(v)
		if mine == nil && (p.down == nil || p.down.Get(v) == nil) {
			continue
		}
		for k := range a {
			a[k] = p.ascentAt(v, k)
		}
		var b []sample
		var change []float64
		if p.down != nil {
			b = p.descentAt(v, lnp)
			if v == sounding.Longitude {
				for k := range b {
					b[k].value = a[k].value + math.Remainder(b[k].value-a[k].value, 360)
				}
			}
			change = p.changes(lnp, a, b)
		}
		s := sounding.Series{Variable: v, Values: make([]float64, n), Flags: make([]quality.Flag, n), Independent: make([]float64, n), Common: make([]float64, n)}
		for k := range a {
			one := a[k]
			if b != nil {
				one, _ = choose(k, a[k], b[k], change[k], w)
				share := 0.0
				if !math.IsNaN(a[k].value) && !math.IsNaN(b[k].value) {
					_, share = choose(k, a[k], b[k], change[k], w)
					if v == sounding.Temperature {
						both++
						if share > 0 {
							took++
						}
					}
				}
				touched[k] = touched[k] || share > 0 || math.IsNaN(a[k].value) && !math.IsNaN(b[k].value)
			}
			s.Values[k], s.Independent[k], s.Common[k], s.Flags[k] = one.value, one.independent, one.common, one.flag
			if math.IsNaN(one.value) {
				s.Flags[k] = quality.Missing
			}
		}
		out.Series = append(out.Series, s)
	}
	p.derive(out, touched)
	return out, both, took
}

// choose combines two samples. A good one is not mixed with a questionable one.
func choose(k int, a, b sample, change float64, w weigh) (sample, float64) {
	better := func(x, y quality.Flag) bool { return x != quality.Questionable && y == quality.Questionable }
	switch {
	case math.IsNaN(b.value):
		return a, 0
	case math.IsNaN(a.value):
		return b, 1
	case better(a.flag, b.flag):
		return a, 0
	case better(b.flag, a.flag):
		return b, 1
	}
	share, variance := w(k, a, b, known(change))
	x := sample{flag: quality.Worst(a.flag, b.flag), time: a.time}
	if share == 0 {
		x.flag = a.flag
	} else if share == 1 {
		x.flag = b.flag
	}
	x.value = a.value + share*(b.value-a.value)
	x.independent = math.Hypot((1-share)*a.independent, share*b.independent)
	x.common = math.Sqrt(math.Pow((1-share)*a.common+share*b.common, 2) + variance)
	switch share { // a part that is not known of a sample that is not used does not matter
	case 0:
		x.independent, x.common = a.independent, math.Sqrt(a.common*a.common+variance)
	case 1:
		x.independent, x.common = b.independent, math.Sqrt(b.common*b.common+variance)
	}
	return x, share
}

// derive computes dew point, speed and direction of the combined values; where nothing of
// the descent went in, the ascent's dew point stays.
func (p *pair) derive(out *sounding.Final, touched []bool) {
	n := out.Len()
	fresh := func(v sounding.Variable) sounding.Series {
		s := sounding.Series{Variable: v, Values: make([]float64, n), Flags: make([]quality.Flag, n), Independent: make([]float64, n), Common: make([]float64, n)}
		for k := range s.Values {
			s.Values[k], s.Independent[k], s.Common[k], s.Flags[k] = math.NaN(), math.NaN(), math.NaN(), quality.Missing
		}
		return s
	}
	t, rh := out.Get(sounding.Temperature), out.Get(sounding.Humidity)
	if t != nil && rh != nil {
		sensor := p.set.House
		if p.f.Sheet != nil {
			if formula, err := humidity.ParseFormula(p.f.Sheet.Humidity.Formula); err == nil {
				sensor = formula
			}
		}
		td := fresh(sounding.DewPoint)
		own := p.up.Get(sounding.DewPoint)
		for k := range td.Values {
			if !touched[k] && own != nil {
				td.Values[k], td.Independent[k], td.Common[k], td.Flags[k] = own.Values[k], part(own.Independent, k), part(own.Common, k), flagOf(own, k)
				continue
			}
			x, h := t.Values[k], rh.Values[k]
			if !(x > 0 && h > 0) {
				continue
			}
			d := p.set.House.DewPoint(sensor.FromRelative(h, x))
			if math.IsNaN(d) {
				continue
			}
			td.Values[k], td.Flags[k] = d, quality.Worst(t.Flags[k], rh.Flags[k])
			td.Independent[k] = p.set.House.DewPointUncertainty(h, x, d, rh.Independent[k], t.Independent[k])
			td.Common[k] = p.set.House.DewPointUncertainty(h, x, d, rh.Common[k], t.Common[k])
		}
		out.Series = append(out.Series, td)
	}
	u, v := out.Get(sounding.WindU), out.Get(sounding.WindV)
	if u == nil || v == nil {
		return
	}
	speed, direction := fresh(sounding.WindSpeed), fresh(sounding.WindDirection)
	for k := range speed.Values {
		if math.IsNaN(u.Values[k]) || math.IsNaN(v.Values[k]) {
			continue
		}
		s, d := earth.WindFromUV(u.Values[k], v.Values[k])
		flag := quality.Worst(u.Flags[k], v.Flags[k])
		speed.Values[k], direction.Values[k], speed.Flags[k], direction.Flags[k] = s, d, flag, flag
		if s > 0 {
			along := func(a, b float64) float64 { return math.Hypot(u.Values[k]*a, v.Values[k]*b) / s }
			across := func(a, b float64) float64 { return math.Hypot(v.Values[k]*a, u.Values[k]*b) / (s * s) * 180 / math.Pi }
			speed.Independent[k], speed.Common[k] = along(u.Independent[k], v.Independent[k]), along(u.Common[k], v.Common[k])
			direction.Independent[k], direction.Common[k] = across(u.Independent[k], v.Independent[k]), across(u.Common[k], v.Common[k])
		}
	}
	out.Series = append(out.Series, speed, direction)
}
