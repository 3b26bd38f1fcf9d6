package correct

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// twinHumidity corrects two alternately heated sensors, each on its own, and merges
// them (docs/methods/twin-humidity-merge.md).
func (f *flight) twinHumidity() {
	if f.sheet == nil {
		f.plainMerge()
		return
	}
	inversion := lagInversion{scratch: f.scratch}
	var pairs [][2]*element
	var all [2][]*element
	how := heatingNone
	for _, l := range f.legs {
		t := f.airTemperatureOn(l)
		ha, hb, by := f.heatingState(l, t)
		if by != heatingNone {
			how = by
		}
		slope := f.slopes(t)
		recovery := f.recoveryOf(l, t, [2][]bool{ha, hb}, how)
		var pair [2]*element
		for k, v := range [2]sounding.Variable{sounding.HumidityA, sounding.HumidityB} {
			e := f.newElement(v, l, t)
			f.heat(e, [2][]bool{ha, hb}[k], recovery)
			f.exposure(e, t, slope)
			f.invert(e, &inversion)
			pair[k] = e
			all[k] = append(all[k], e)
		}
		pairs = append(pairs, pair)
	}
	f.sensorSteps(sounding.HumidityA, all[0])
	f.sensorSteps(sounding.HumidityB, all[1])
	f.mergePairs(pairs, how)
}

// failed looks for a sensor that cannot be used at all: without values, constant
// while the other moves, or far noisier than the other.
func (f *flight) failed(pairs [][2]*element) (bad [2]string) {
	for k := range 2 {
		usable, rows := 0, 0
		for _, p := range pairs {
			for i := range p[k].reading {
				rows++
				if present(p[k].reading[i]) {
					usable++
				}
			}
		}
		if rows > 0 && usable*20 < rows {
			bad[k] = "has hardly any usable reading"
		}
	}
	if len(pairs) == 0 || bad[0] != "" || bad[1] != "" {
		return bad
	}
	p := pairs[0]
	for k := range 2 {
		mine, other := p[k], p[1-k]
		// Without the sheet's bound, which is there for sensors that work.
		h := &f.sheet.Humidity
		if a, b := noiseOf(mine.reading, 0, h.Resolution), max(noiseOf(other.reading, 0, h.Resolution), 0.5*h.Noise); a > f.set.TwinHumidity.FailNoiseRatio*b {
			bad[k] = fmt.Sprintf("is %.0f times as noisy as the other", a/b)
			return bad
		}
	}
	for k := range 2 {
		mine, other := p[k], p[1-k]
		from := -1
		for i, x := range mine.reading {
			if !present(x) {
				continue
			}
			if from < 0 || x != mine.reading[from] {
				from = i
			}
			if mine.leg.time[i]-mine.leg.time[from] < f.set.TwinHumidity.Stuck {
				continue
			}
			low, high := math.Inf(1), math.Inf(-1)
			for j := from; j <= i; j++ {
				if y := other.reading[j]; present(y) {
					low, high = min(low, y), max(high, y)
				}
			}
			if high-low > 15 {
				bad[k] = fmt.Sprintf("stands at %.1f %% while the other moves by %.0f %%", x, high-low)
				return bad
			}
		}
	}
	return bad
}

// mergePairs chooses and cross-fades.
func (f *flight) mergePairs(pairs [][2]*element, how string) {
	values := constant(f.n, math.NaN())
	independent, common := constant(f.n, math.NaN()), constant(f.n, math.NaN())
	resolution := make([]float64, f.n)
	flags, tests := make([]quality.Flag, f.n), make([]quality.Bits, f.n)
	state := [2]*state{f.now[sounding.HumidityA], f.now[sounding.HumidityB]}
	names := [2]string{"A", "B"}
	f.restRows(values, independent, common, flags, state)

	bad := f.failed(pairs)
	for k, why := range bad {
		if why == "" {
			continue
		}
		f.finding(sounding.Finding{Check: quality.TwinHumidity, Variable: [2]sounding.Variable{sounding.HumidityA, sounding.HumidityB}[k],
			Severity: sounding.Questionable, Spans: f.covered(), Measured: sounding.NotSet, Limit: sounding.NotSet, Unit: "%",
			Sentence: fmt.Sprintf("humidity sensor %s %s: it is not used, sensor %s stands alone", names[k], why, names[1-k])})
	}
	bridged, both, single := 0, 0, [2]int{}
	var disagreements []disagreement
	for _, p := range pairs {
		l := p[0].leg
		temperature := f.airTemperatureOn(l)
		weight := [2][]float64{f.weights(p[0], bad[0] != ""), f.weights(p[1], bad[1] != "")}
		f.withhold(p, weight)
		f.rule(l, weight)
		apart := f.disagreement(p, weight, temperature)
		disagreements = append(disagreements, apart...)
		merged := f.column(l.len())
		for k, i := range l.rows {
			d := apart.at(l.time[k])
			wa, wb := weight[0][k], weight[1][k]
			sum := wa + wb
			merged[k] = math.NaN()
			if !(sum > 0) {
				continue
			}
			// Each sensor is shifted by half of what parts them, so that a swap leaves
			// no step: the result is always the mean of the two.
			x, noise, model := 0.0, 0.0, 0.0
			if wa > 0 {
				x += wa * (p[0].air[k] - d.shift(0))
				noise += wa * wa * p[0].noise[k] * p[0].noise[k]
				model += wa * p[0].model[k]
			}
			if wb > 0 {
				x += wb * (p[1].air[k] - d.shift(1))
				noise += wb * wb * p[1].noise[k] * p[1].noise[k]
				model += wb * p[1].model[k]
			}
			merged[k] = x / sum
			calibration := f.humidityCommon(temperature[k], merged[k])
			if d.known {
				calibration /= math.Sqrt2
			}
			values[i] = merged[k]
			independent[i] = math.Sqrt(noise) / sum
			limit := f.set.TwinHumidity.DisagreementCold
			if temperature[k] >= f.set.TwinHumidity.WarmAbove {
				limit = f.set.TwinHumidity.DisagreementWarm
			}
			widen := 0.0
			if math.Abs(d.apart) > limit {
				widen = 0.5 * math.Abs(d.apart)
			}
			common[i] = rootSum(calibration, model/sum, widen)
			resolution[i] = max(p[0].solution.resolution[k]*wa, p[1].solution.resolution[k]*wb) / max(wa, wb)
			switch {
			case wa > 0 && wb > 0:
				both++
				switch { // the flag of the sensor that carries the value
				case wa > 2*wb:
					flags[i], tests[i] = rollOne(state[0], int(i))
				case wb > 2*wa:
					flags[i], tests[i] = rollOne(state[1], int(i))
				default:
					flags[i], tests[i] = rollTwo(state, int(i))
				}
			case wa > 0:
				single[0]++
				flags[i], tests[i] = rollOne(state[0], int(i))
			default:
				single[1]++
				flags[i], tests[i] = rollOne(state[1], int(i))
			}
		}
		bridged += f.bridgeHumidity(l, p, merged, values, independent, common, flags, tests, temperature)
	}
	note := fmt.Sprintf("heating found by %s; both sensors in %d rows, A alone in %d, B alone in %d, %d bridged", how, both, single[0], single[1], bridged)
	if how == heatingNone {
		note = fmt.Sprintf("no heating cycle; both sensors in %d rows, A alone in %d, B alone in %d", both, single[0], single[1])
	}
	set := &f.set.TwinHumidity
	coefficients := []sounding.Coefficient{
		numberOf("cross_fade", set.CrossFade, "s", "settings"), numberOf("residual_excess", set.Residual, "K", "settings"),
		numberOf("longest_bridged", set.Bridge, "s", "settings"),
	}
	if f.recovery > 0 {
		coefficients = append(coefficients, numberOf("recovery_time_constant", f.recovery, "s", "fitted"))
	} else if f.sheet.Humidity.Heating.Recovery > 0 {
		coefficients = append(coefficients, numberOf("recovery_time_constant", f.sheet.Humidity.Heating.Recovery, "s", "sheet"))
	}
	coefficients = append(coefficients, f.disagreementFindings(disagreements)...)
	before := f.now[sounding.Humidity]
	f.step(sounding.Step{Method: "twin-humidity-merge", Kind: sounding.StepChoose, Variable: sounding.Humidity, Values: values,
		Independent: independent, Common: common, Resolution: resolution, Coefficients: coefficients, Note: note})
	if before != nil {
		// What the checks or a person said about the source's own humidity stands.
		for i, x := range before.flags {
			if x == quality.Bad && before.tests != nil && before.tests[i].Has(quality.Decision) {
				flags[i], tests[i] = quality.Bad, before.tests[i]
			}
		}
	}
	f.flagged(sounding.Humidity, flags, tests)
	f.ran(quality.TwinHumidity, sounding.Humidity)
}

// restRows fills the rows outside the legs (before release, after landing): the mean
// of what usable sensors read, uncorrected.
func (f *flight) restRows(values, independent, common []float64, flags []quality.Flag, st [2]*state) {
	inside := make([]bool, f.n)
	for _, l := range f.legs {
		for _, i := range l.rows {
			inside[i] = true
		}
	}
	a, b := f.usable(sounding.HumidityA), f.usable(sounding.HumidityB)
	for i := range values {
		if inside[i] {
			continue
		}
		switch {
		case present(a[i]) && present(b[i]):
			// A heated element reads low: the moister one is the cool one.
			values[i] = max(a[i], b[i])
		case present(a[i]):
			values[i] = a[i]
		default:
			values[i] = b[i]
		}
		if present(values[i]) {
			flags[i] = quality.NotEvaluated
			independent[i], common[i] = f.set.Generic.HumidityNoise, f.humidityCommon(288, values[i])
		}
	}
}

func rollOne(st *state, i int) (quality.Flag, quality.Bits) {
	if st.flags == nil {
		return quality.NotEvaluated, 0
	}
	var bits quality.Bits
	if st.tests != nil {
		bits = st.tests[i]
	}
	return st.flags[i], bits
}

// rollTwo is the better of two flags: the merge does not rest on the worse sensor alone.
func rollTwo(st [2]*state, i int) (quality.Flag, quality.Bits) {
	fa, ta := rollOne(st[0], i)
	fb, tb := rollOne(st[1], i)
	if fa == quality.Good || fa == fb {
		return fa, ta & tb
	}
	if fb == quality.Good {
		return fb, ta & tb
	}
	if quality.Worst(fa, fb) == fa {
		return fb, tb
	}
	return fa, ta
}

// weights are 1/u² of a sensor where it counts, faded in after and out before a
// stretch without it, so that no step enters the merge; 0 where it does not count.
func (f *flight) weights(e *element, failed bool) []float64 {
	n := e.leg.len()
	w := f.filled(n, 0)
	if failed {
		return w
	}
	t := e.leg.time
	for i := range n {
		e.valid[i] = present(e.reading[i]) && present(e.air[i]) && !e.alone[i]
		if e.valid[i] {
			// Calibration is the same for both and left out.
			w[i] = 1 / (e.noise[i]*e.noise[i] + e.model[i]*e.model[i] + 0.05)
		}
	}
	for from := 0; from < n; {
		if !e.valid[from] {
			from++
			continue
		}
		to := from
		for to < n && e.valid[to] {
			to++
		}
		for i := from; i < to; i++ {
			fade := max(f.set.TwinHumidity.CrossFade, 0.3*e.solution.resolution[i])
			x := 1.0
			if from > 0 {
				x = min(x, (t[i]-t[from-1])/fade)
			}
			if to < n {
				x = min(x, (t[to]-t[i])/fade)
			}
			w[i] *= max(x, 0.02)
		}
		from = to
	}
	return w
}

// withhold leaves a sensor out where the checks doubt it for its own sake, provided
// the other one works: a gap is better than what an iced element reads. Without
// another sensor the doubted readings stay, flagged as they are.
func (f *flight) withhold(p [2]*element, weight [2][]float64) {
	n := p[0].leg.len()
	for k := range 2 {
		// The other must work thereabouts, within a few heating cycles, and not suffer
		// from the same: where both are doubted neither can stand in for the other.
		const enough = 0.7 // of its readings
		near, t, other := 2.5*f.cycle(), p[k].leg.time, p[1-k]
		from, to, valid, sound := 0, 0, 0, 0
		count := func(i, by int) {
			if other.valid[i] {
				valid += by
				if !other.doubted[i] {
					sound += by
				}
			}
		}
		for i, d := range p[k].doubted {
			for to < n && t[to]-t[i] <= near {
				count(to, 1)
				to++
			}
			for t[i]-t[from] > near {
				count(from, -1)
				from++
			}
			if d && sound > 0 && float64(sound) >= enough*float64(valid) {
				weight[k][i] = 0
			}
		}
	}
}

// cycle is the heating cycle by the sheet in s, 60 where it gives none.
func (f *flight) cycle() float64 {
	if c := f.sheet.Humidity.Heating.Cycle; c > 0 {
		return c
	}
	return 60
}

// rule applies a person's choice of sensor.
func (f *flight) rule(l *leg, weight [2][]float64) {
	for _, r := range f.set.SensorChoice {
		other := 1
		if r.Sensor == sounding.HumidityB {
			other = 0
		}
		for k, i := range l.rows {
			if r.Span.Contains(int(i)) {
				weight[other][k] = 0
			}
		}
	}
}

// disagreement is what parts the sensors around a time: A − B where both counted.
type disagreement struct {
	time        float64
	from, to    int // rows of the flight
	apart       float64
	temperature float64
	samples     int
}

type disagreements []disagreement

// offset is a disagreement at one sample.
type offset struct {
	apart float64
	known bool
}

// shift is how much sensor k is moved to the mean of the two.
func (o offset) shift(k int) float64 {
	if !o.known {
		return 0
	}
	if k == 0 {
		return 0.5 * o.apart
	}
	return -0.5 * o.apart
}

// disagreement measures A − B in blocks of a few heating cycles: the median over
// samples where both count.
func (f *flight) disagreement(p [2]*element, weight [2][]float64, temperature []float64) disagreements {
	l := p[0].leg
	block := 2.5 * f.cycle()
	var out disagreements
	var d, ts []float64
	from := 0
	for k := 0; k <= l.len(); k++ {
		if k == l.len() || l.time[k]-l.time[from] > block {
			if len(d) >= 10 {
				out = append(out, disagreement{time: 0.5 * (l.time[from] + l.time[k-1]), from: int(l.rows[from]), to: int(l.rows[k-1]) + 1,
					apart: medianOf(d), temperature: medianOf(ts), samples: len(d)})
			}
			d, ts = d[:0], ts[:0]
			from = k
			if k == l.len() {
				break
			}
		}
		if weight[0][k] > 0 && weight[1][k] > 0 && !p[0].doubted[k] && !p[1].doubted[k] {
			d = append(d, p[0].air[k]-p[1].air[k])
			ts = append(ts, temperature[k])
		}
	}
	for i := range out {
		out[i].apart = clampTo(out[i].apart, 30)
	}
	return out
}

func clampTo(x, limit float64) float64 { return max(-limit, min(limit, x)) }

// at interpolates between blocks.
func (d disagreements) at(t float64) offset {
	switch {
	case len(d) == 0:
		return offset{}
	case t <= d[0].time:
		return offset{apart: d[0].apart, known: true}
	}
	for i := 1; i < len(d); i++ {
		if t <= d[i].time {
			x := (t - d[i-1].time) / (d[i].time - d[i-1].time)
			return offset{apart: d[i-1].apart + x*(d[i].apart-d[i-1].apart), known: true}
		}
	}
	return offset{apart: d[len(d)-1].apart, known: true}
}

// disagreementFindings reports sensors that are apart, once for the warm and once
// for the cold part of the flight.
func (f *flight) disagreementFindings(all []disagreement) []sounding.Coefficient {
	set := &f.set.TwinHumidity
	var out []sounding.Coefficient
	for k, name := range [2]string{"warm", "cold"} {
		limit := [2]float64{set.DisagreementWarm, set.DisagreementCold}[k]
		var apart []float64
		var spans []sounding.Span
		for _, d := range all {
			if (d.temperature >= set.WarmAbove) != (k == 0) {
				continue
			}
			apart = append(apart, d.apart)
			if math.Abs(d.apart) > limit {
				spans = append(spans, sounding.Span{From: d.from, To: d.to})
			}
		}
		if len(apart) == 0 {
			continue
		}
		m := medianOf(apart)
		out = append(out, numberOf("a_minus_b_"+name, m, "%", "fitted"))
		if math.Abs(m) <= limit {
			continue
		}
		where := "warmer than −40 °C"
		if k == 1 {
			where = "colder than −40 °C"
		}
		f.finding(sounding.Finding{Check: quality.TwinHumidity, Variable: sounding.Humidity, Severity: sounding.Note, Spans: spans,
			Measured: sounding.Number(m), Limit: sounding.Number(limit), Unit: "%",
			Sentence: fmt.Sprintf("humidity sensor A reads %+.1f %% against B where the air is %s: their mean is used, good to half of that", m, where)})
	}
	return out
}

// bridgeHumidity fills rows where no sensor counted, up to the longest allowed, with
// straight lines; returns how many.
func (f *flight) bridgeHumidity(l *leg, p [2]*element, merged, values, independent, common []float64, flags []quality.Flag, tests []quality.Bits, temperature []float64) int {
	last, count := -1, 0
	for k, i := range l.rows {
		if !present(merged[k]) {
			continue
		}
		longest := f.set.TwinHumidity.Bridge
		for j := last + 1; j < k && last >= 0; j++ {
			if p[0].doubted[j] || p[1].doubted[j] {
				longest = max(longest, f.cycle()) // across a withheld sensor
				break
			}
		}
		if last >= 0 && last < k-1 && l.time[k]-l.time[last] <= longest {
			a := l.rows[last]
			span := l.time[k] - l.time[last]
			for j := last + 1; j < k; j++ {
				x := (l.time[j] - l.time[last]) / span
				r := l.rows[j]
				values[r] = merged[last] + x*(merged[k]-merged[last])
				independent[r] = rootSum(independent[a], independent[i], 0.3*math.Abs(merged[k]-merged[last]), 0.3*math.Sqrt(span*x*(1-x)))
				common[r] = max(common[a], common[i])
				flags[r], tests[r] = quality.Worst(flags[a], flags[i]), tests[a]|tests[i]
				count++
			}
		}
		last = k
	}
	return count
}

// plainMerge is for two sensors without an instrument sheet: nothing is known about
// their heating, so at each row the moister reading counts, because a heated element
// reads low.
func (f *flight) plainMerge() {
	for _, v := range [2]sounding.Variable{sounding.HumidityA, sounding.HumidityB} {
		f.notRun(quality.Lag, v, "no instrument sheet: time constant not known")
		f.budget(v, f.level(f.set.Generic.HumidityNoise), f.level(f.set.Generic.HumidityU))
	}
	a, b := f.usable(sounding.HumidityA), f.usable(sounding.HumidityB)
	values := constant(f.n, math.NaN())
	flags, tests := make([]quality.Flag, f.n), make([]quality.Bits, f.n)
	st := [2]*state{f.now[sounding.HumidityA], f.now[sounding.HumidityB]}
	ruled := make([]sounding.Variable, f.n)
	for _, r := range f.set.SensorChoice {
		for i := max(0, r.Span.From); i < min(f.n, r.Span.To); i++ {
			ruled[i] = r.Sensor
		}
	}
	for i := range values {
		k := 0
		if !present(a[i]) || b[i] > a[i] {
			k = 1
		}
		switch ruled[i] {
		case sounding.HumidityA:
			k = 0
		case sounding.HumidityB:
			k = 1
		}
		values[i] = [2]float64{a[i], b[i]}[k]
		flags[i], tests[i] = rollOne(st[k], i)
	}
	f.step(sounding.Step{Method: "twin-humidity-merge", Kind: sounding.StepChoose, Variable: sounding.Humidity, Values: values,
		Independent: f.level(f.set.Generic.HumidityNoise), Common: f.level(f.set.Generic.HumidityU),
		Note: "no instrument sheet: the moister of the two sensors in each row, because a heated element reads low"})
	f.flagged(sounding.Humidity, flags, tests)
	f.notRun(quality.TwinHumidity, sounding.Humidity, "no instrument sheet: heating cycle and recovery not known")
}
