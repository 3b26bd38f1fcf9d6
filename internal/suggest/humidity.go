package suggest

import (
	"fmt"
	"math"

	"leadline/internal/humidity"
	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// Limits for two humidity sensors (our proposal, docs/methods/suggestions.md).
const (
	apartLeast   = 6.0  // %, beyond what calibrations of 1.5 % each make
	apartUsual   = 2.1  // %, two such calibrations
	apartShort   = 3.0  // %, the same over a part of the flight, where lags differ as well
	apartGain    = 8.0  // −2 ln of odds
	icedCycles   = 5    // heating cycles near saturation over ice
	apartFor     = 180. // s
	sensorMargin = 4.0  // −2 ln of odds between the two
	coolingTime  = 20.0 // s after heating, before a sensor counts
	cycle        = 80.0 // s, of one comparison, where no sheet gives the heating cycle
)

// comparison is both sensors over a heating cycle, each on the rows on which it measures.
type comparison struct {
	span    sounding.Span
	a, b, d float64 // medians, and A minus B, %
	ice     float64 // % over water at saturation over ice
	p, t    float64 // hPa, K
}

// measuring tells on which rows a sensor measures: not heated, and cooled since.
func (f *facts) measuring(heating sounding.Variable) func(int) bool {
	h := f.raw.Values(heating)
	if h == nil {
		return func(int) bool { return true }
	}
	ok := make([]bool, len(h))
	last := math.Inf(-1)
	for i := range h {
		if h[i] > 0.5 {
			last = f.raw.Time[i]
		}
		ok[i] = f.raw.Time[i]-last > coolingTime
	}
	return func(i int) bool { return ok[i] }
}

func (f *facts) comparisons() []comparison {
	a, b := f.raw.Values(sounding.HumidityA), f.raw.Values(sounding.HumidityB)
	t, p := f.raw.Values(sounding.Temperature), f.final.Values(sounding.Pressure)
	if a == nil || b == nil || t == nil {
		return nil
	}
	okA, okB := f.measuring(sounding.HeatingA), f.measuring(sounding.HeatingB)
	var out []comparison
	length := cycle
	if s := f.final.Sheet; s != nil && s.Humidity.Heating.Cycle > 0 {
		length = math.Max(s.Humidity.Heating.Cycle, 40)
	}
	var va, vb []float64
	for i := f.ascent.From; i < f.ascent.To; {
		c := comparison{span: sounding.Span{From: i, To: i}}
		va, vb = va[:0], vb[:0]
		end := f.raw.Time[i] + length
		for i < f.ascent.To && f.raw.Time[i] < end {
			if okA(i) && !math.IsNaN(a[i]) {
				va = append(va, a[i])
			}
			if okB(i) && !math.IsNaN(b[i]) {
				vb = append(vb, b[i])
			}
			i++
			c.span.To = i
		}
		if len(va) < 5 || len(vb) < 5 {
			continue
		}
		c.a, c.b = smooth.Median(va, nil), smooth.Median(vb, nil)
		c.d = c.a - c.b
		c.t = middle(t, c.span)
		c.p = 1000
		if p != nil {
			c.p = middle(p, c.span)
		}
		c.ice = 100
		if c.t < zeroCelsius {
			c.ice = humidity.HylandWexler.IceSaturation(c.t)
		}
		out = append(out, c)
	}
	return out
}

// humidity: one of two sensors is bad over a span; or the only one is, or both.
func (f *facts) humidity() []Suggestion {
	all := f.comparisons()
	var out []Suggestion
	if s, ok := f.sensorBad(all); ok {
		out = append(out, s)
	}
	out = append(out, f.humidityClamped()...)
	if len(all) == 0 {
		out = append(out, f.humidityIced()...)
	}
	if len(out) == 0 {
		out = append(out, f.humidityDry()...)
	}
	return out
}

// sensorBad looks for a stretch in which the two are far apart, and for which of them
// everything else speaks.
func (f *facts) sensorBad(all []comparison) (Suggestion, bool) {
	first, last := -1, -1
	apart, gap := 0.0, 0
	var ds []float64
	count := 0
	// The longest stretch of one sign, short holes allowed.
	bestFirst, bestLast, bestApart := -1, -1, 0.0
	sign := 0.0
	flush := func() {
		if first >= 0 && apart > bestApart {
			bestFirst, bestLast, bestApart = first, last, apart
		}
		first, apart, gap = -1, 0, 0
	}
	for k, c := range all {
		if math.Abs(c.d) > apartLeast && (first < 0 || math.Copysign(1, c.d) == sign) {
			if first < 0 {
				first, sign = k, math.Copysign(1, c.d)
			}
			last, gap = k, 0
			apart += f.raw.Time[c.span.To-1] - f.raw.Time[c.span.From]
			continue
		}
		if first >= 0 {
			if gap++; gap > 3 {
				flush()
			}
		}
	}
	flush()
	if bestFirst < 0 || bestApart < apartFor {
		return Suggestion{}, false
	}
	run := all[bestFirst : bestLast+1]
	// Evidence against A (positive) and B (negative), −2 ln of odds.
	score := 0.0
	why := ""
	say := func(x float64, words string) {
		if math.Abs(x) > 2 && why == "" {
			why = words
		}
		score += x
	}
	iced, stuckA, stuckB, thin, beyond := 0.0, 0, 0, 0.0, 0.0
	var va, vb []float64
	for _, c := range run {
		ds = append(ds, c.d)
		va, vb = append(va, c.a), append(vb, c.b)
		wet, dry, s := c.a, c.b, 1.0
		if c.d < 0 {
			wet, dry, s = c.b, c.a, -1
		}
		if wet > 0.9*c.ice && dry < 0.85*c.ice && c.t < zeroCelsius {
			iced += s
		}
		if c.p < 100 {
			thin += s
		}
		if wet > 101.5 {
			beyond += s
		}
		if c.d < 0 && c.b < -2 || c.d > 0 && c.a < -2 {
			beyond -= s
		}
		count++
	}
	d := smooth.Median(ds, nil)
	// It does not move while the other does.
	spread := func(x []float64) float64 { return smooth.Quantile(x, 0.9, nil) - smooth.Quantile(x, 0.1, nil) }
	sa, sb := spread(va), spread(vb)
	if len(va) >= 3 {
		if sa < 0.5 && sb > 3 {
			stuckA++
			say(14, "it does not move while the other follows the air")
		}
		if sb < 0.5 && sa > 3 {
			stuckB++
			say(-14, "it does not move while the other follows the air")
		}
	}
	if stuckA+stuckB == 0 {
		if math.Abs(iced) > 0.4*float64(count) && math.Abs(iced) >= icedCycles {
			say(math.Copysign(10, iced), "it stays near saturation over ice while the other is dry")
		}
		if math.Abs(beyond) >= 2 {
			say(math.Copysign(8, beyond), "it reads beyond what air can hold")
		}
		if math.Abs(thin) >= 3 {
			say(math.Copysign(6, thin), "it is the wetter one in the stratosphere, which is dry")
		}
		g := &f.record.GroundCheck
		if x, y, ref := g.HumidityA.Value(), g.HumidityB.Value(), g.ReferenceHumidity.Value(); !math.IsNaN(x + y + ref) {
			say(loss((x-ref)/2)-loss((y-ref)/2), "it was the one off at the ground check")
		}
		x, y, want := f.vapourAtRest(sounding.HumidityA, sounding.HumiditySensorTempA), f.vapourAtRest(sounding.HumidityB, sounding.HumiditySensorTempB), f.record.Surface.Humidity.Value()
		if !math.IsNaN(x+y+want) && bestFirst < 3 {
			v := math.Max(-10, math.Min(10, ((x-want)*(x-want)-(y-want)*(y-want))/36))
			say(v, "it was the one off from the surface observation before release")
		}
	}
	if math.Abs(score) < sensorMargin {
		return Suggestion{}, false
	}
	bad, good, letter := "A", "b", "B"
	if score < 0 {
		bad, good, letter = "B", "a", "A"
	}
	s := Suggestion{Name: HumiditySensorBad, Strength: Likely, Margin: sounding.Number(round(math.Abs(score), 1))}
	usual := apartShort
	if 5*len(run) > 2*len(all) {
		usual = apartUsual
	}
	s.Gain = round(loss(d/usual)+math.Min(10, math.Abs(score))-priceThermal, 1)
	if s.Gain < apartGain {
		return Suggestion{}, false
	}
	if math.Abs(score) >= 8 && bestApart > 2*apartFor {
		s.Strength = Strong
	}
	span := sounding.Span{From: run[0].span.From, To: run[len(run)-1].span.To}
	whole := bestFirst <= 1 && bestLast >= len(all)-2
	decision := sounding.Decision{Action: sounding.ActChooseSensor, Value: good, Reason: fmt.Sprintf("sensor %s is off by %+.0f %% against %s: %s", bad, signOf(bad, d), letter, why)}
	where := "throughout the flight"
	if !whole {
		if bestLast >= len(all)-2 {
			span.To = f.raw.Len()
		}
		decision.From, decision.To = f.instant(span.From), f.instant(span.To-1)
		where = fmt.Sprintf("from %s to %s", f.height(span.From), f.height(min(span.To, f.ascent.To)-1))
	}
	s.Decisions = []sounding.Decision{decision}
	s.Sentence = fmt.Sprintf("humidity sensor %s is bad %s: it reads %+.0f %% against %s where both measure, and %s; use sensor %s there", bad, where, signOf(bad, d), letter, why, letter)
	s.Evidence = []Evidence{{Residual: "humidity sensor A minus B where both measure", Before: sounding.Number(round(d, 1)), After: 0, Usual: sounding.Number(usual), Unit: "%"}}
	return s, true
}

// signOf turns A minus B into the bad sensor minus the other.
func signOf(bad string, d float64) float64 {
	if bad == "B" {
		return -d
	}
	return d
}

// vapourAtRest is the humidity at rest carried from the element's own temperature to
// that of the surface observation, %.
func (f *facts) vapourAtRest(v, element sounding.Variable) float64 {
	x := f.rest(v)
	t := f.rest(element)
	if math.IsNaN(t) || t > f.temperature+20 || t < f.temperature-5 {
		t = f.temperature
	}
	if s := f.record.Surface.Temperature.Value(); !math.IsNaN(s + t) {
		x = humidity.HylandWexler.ToRelative(humidity.HylandWexler.FromRelative(x, t), s)
	}
	return x
}

// findingsOn lists the findings above a note of some checks on a variable.
func (f *facts) findingsOn(v sounding.Variable, checks ...quality.Check) []sounding.Finding {
	var out []sounding.Finding
	for _, x := range f.o.Checked.Findings {
		if x.Variable != v || x.Severity == sounding.Note || x.State != "" || len(x.Spans) == 0 {
			continue
		}
		for _, c := range checks {
			if x.Check == c {
				out = append(out, x)
				break
			}
		}
	}
	return out
}

// humidityClamped: every humidity sensor piles up at one value below saturation.
func (f *facts) humidityClamped() []Suggestion {
	var sensors []sounding.Variable
	for _, v := range []sounding.Variable{sounding.HumidityA, sounding.HumidityB, sounding.Humidity} {
		if f.raw.Get(v) != nil {
			sensors = append(sensors, v)
		}
	}
	if len(sensors) == 0 {
		return nil
	}
	limit := math.NaN()
	span := sounding.Span{From: f.raw.Len()}
	for _, v := range sensors {
		found := false
		for _, x := range f.findingsOn(v, quality.Clamped, quality.Stuck) {
			m := x.Measured.Value()
			if x.Check == quality.Stuck || !(m > 10 && m < 97) || !math.IsNaN(limit) && math.Abs(m-limit) > 0.5 {
				continue
			}
			limit, found = m, true
			for _, s := range x.Spans {
				span.From, span.To = min(span.From, s.From), max(span.To, s.To)
			}
		}
		if !found {
			return nil
		}
	}
	if span.Len() < 30 {
		return nil
	}
	pile := f.pile(sensors[0], limit)
	s := Suggestion{Name: HumidityBad, Strength: Likely, Gain: round(loss(pile/3)-priceThermal, 1), Margin: sounding.NotSet}
	if len(sensors) > 1 {
		s.Strength = Strong
	}
	s.Sentence = fmt.Sprintf("humidity never exceeds %.1f %% and stands there for %.0f %% of the time below 10 km: the reading is cut off; withhold it from %s to %s", limit, pile, f.height(span.From), f.height(span.To-1))
	s.Decisions = []sounding.Decision{f.spanned(sounding.ActExclude, "", fmt.Sprintf("humidity is cut off at %.1f %%", limit), span, append(sensors, sounding.Humidity)...)}
	if last := &s.Decisions[0]; f.raw.Get(sounding.Humidity) == nil {
		last.Variables = append(last.Variables, sounding.Humidity)
	}
	s.Evidence = []Evidence{{Residual: "share of samples below 10 km at the highest value", Before: sounding.Number(round(pile, 0)), After: 0, Usual: 3, Unit: "%"}}
	return []Suggestion{s}
}

// pile is the share of samples of the ascent below 10 km that stand at a value, per cent.
func (f *facts) pile(v sounding.Variable, value float64) float64 {
	x, z := f.raw.Values(v), f.final.Values(sounding.HeightMSL)
	n, at := 0.0, 0.0
	for i := f.ascent.From; i < f.ascent.To; i++ {
		if math.IsNaN(x[i]) || z != nil && z[i] > 10000 {
			continue
		}
		n++
		if math.Abs(x[i]-value) < 0.05 {
			at++
		}
	}
	return 100 * at / math.Max(n, 1)
}

// humidityIced: the only humidity sensor is iced or wet over a span.
func (f *facts) humidityIced() []Suggestion {
	span := sounding.Span{From: f.raw.Len()}
	list := f.findingsOn(sounding.Humidity, quality.Icing, quality.IceSaturation)
	seconds := 0.0
	for _, x := range list {
		for _, s := range x.Spans {
			span.From, span.To = min(span.From, s.From), max(span.To, s.To)
			seconds += f.raw.Time[s.To-1] - f.raw.Time[s.From]
		}
	}
	if len(list) == 0 || seconds < apartFor {
		return nil
	}
	return []Suggestion{{Name: HumidityBad, Strength: Likely, Gain: round(loss(seconds/60)-priceThermal, 1), Margin: sounding.NotSet,
		Sentence:  fmt.Sprintf("the humidity sensor is iced or wet from %s to %s: %s; withhold it there", f.height(span.From), f.height(span.To-1), list[0].Sentence),
		Decisions: []sounding.Decision{f.spanned(sounding.ActExclude, "", "humidity sensor iced or wet", span, sounding.Humidity)},
		Evidence:  []Evidence{{Residual: "time at saturation over ice without the variation of air", Before: sounding.Number(round(seconds, 0)), After: 0, Usual: 60, Unit: "s"}}}}
}

// humidityDry: all sensors read a share of the vapour at rest too little.
func (f *facts) humidityDry() []Suggestion {
	want := f.record.Surface.Humidity.Value()
	if !(want > 15) {
		return nil
	}
	var ratios []float64
	var sensors []sounding.Variable
	for _, v := range [][2]sounding.Variable{{sounding.HumidityA, sounding.HumiditySensorTempA}, {sounding.HumidityB, sounding.HumiditySensorTempB}, {sounding.Humidity, sounding.HumiditySensorTempA}} {
		if f.raw.Get(v[0]) == nil {
			continue
		}
		x := f.vapourAtRest(v[0], v[1])
		if math.IsNaN(x) {
			return nil
		}
		// The sun warms a sensor at rest, which makes it dry; a few seconds of ascent
		// ventilate it.
		if aloft := f.firstHumidity(v[0]); math.Abs(aloft-want) < math.Abs(x-want) {
			x = aloft
		}
		sensors = append(sensors, v[0])
		ratios = append(ratios, x/want)
	}
	if len(ratios) == 0 {
		return nil
	}
	share := 0.0
	for _, r := range ratios {
		share += (1 - r) / float64(len(ratios))
	}
	usual := math.Hypot(usualDry, 2/want)
	gain := loss(share/usual) - priceUnit
	if gain < leastGain || share < 0 {
		return nil
	}
	for _, r := range ratios {
		if math.Abs(1-r-share) > 2*usual {
			return nil
		}
	}
	return []Suggestion{{Name: HumidityDry, Strength: Possible, Gain: round(gain, 1), Margin: sounding.NotSet,
		Sentence:  fmt.Sprintf("at rest every humidity sensor reads %.0f %% of its value too dry against the surface observation of %.0f %%: if that was read at the release point, the sensors are dry; flag humidity", 100*share, want),
		Decisions: []sounding.Decision{f.over(sounding.ActFlag, "questionable", fmt.Sprintf("humidity reads about %.0f %% of its value too dry", 100*share), append(sensors, sounding.Humidity)...)},
		Evidence:  []Evidence{{Residual: "vapour at rest less than that of the surface observation, share", Before: sounding.Number(round(100*share, 0)), After: 0, Usual: sounding.Number(round(100*usual, 1)), Unit: "%"}}}}
}

// usualDry is the usual standard deviation of that share, besides 2 % of humidity.
const usualDry = 0.04

// firstHumidity is the median of a sensor over 3 to 20 s after release, %.
func (f *facts) firstHumidity(v sounding.Variable) float64 {
	x := f.raw.Usable(v)
	switch v {
	case sounding.HumidityA:
		x = f.unheated(x, sounding.HeatingA)
	case sounding.HumidityB:
		x = f.unheated(x, sounding.HeatingB)
	}
	return middle(x, f.between(3, 20))
}
