package check

import (
	"fmt"
	"math"
	"slices"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// hole is a stretch without values between two rows that have one.
type hole struct {
	from, to int // rows on either side; to is the end of the ascent where nothing follows
	seconds  float64
	depth    float64 // m, NaN where not known
	open     bool    // lasts until the end
}

// levelsWithout is how many levels at the top of a report may do without a variable: each
// variable has levels of its own.
const levelsWithout = 3

// gap names holes in the rows and in each variable over the ascent. Missing samples
// carry their own flag, so these findings flag nothing.
func gap(in *input) sounding.Report {
	b := in.begin(quality.Gap)
	span := in.ascent
	if span.Len() < 2 {
		span = in.flight
	}
	chosen := in.set.ChosenLevels(in.time[in.flight.From:in.flight.To])
	if chosen {
		b.find(fact{severity: sounding.Note, measured: in.interval, limit: in.set.Gap.Chosen, unit: "s",
			sentence: fmt.Sprintf("the rows are chosen levels, usually %.0f s apart: no gaps are looked for between them", in.interval)})
	} else {
		b.holes(sounding.NoVariable, "rows", in.rowHoles(span), span)
		b.holes(sounding.NoVariable, "rows of the flight itself", in.otherHoles(span), span)
	}
	done := map[string]bool{}
	for _, v := range list(thermodynamic, humidities, winds, heightsOf[:1]) {
		s := in.cols.Get(v)
		if s == nil {
			continue
		}
		b.ran(v)
		if done[name(v)] {
			continue // speaks once of the pair
		}
		done[name(v)] = true
		present := 0
		for i := span.From; i < span.To; i++ {
			if !math.IsNaN(s.Values[i]) || in.others != nil && in.others[i] {
				present++
			}
		}
		if lost := 100 * float64(span.Len()-present) / float64(span.Len()); lost > in.set.Gap.Lost {
			b.absent(v, present, span, lost)
			continue
		}
		holes := in.valueHoles(s.Values, v, span)
		if chosen {
			holes = slices.DeleteFunc(holes, func(h hole) bool { return !h.open || h.to-h.from <= levelsWithout })
		}
		b.holes(v, name(v), holes, span)
	}
	b.neverThere()
	b.ran(sounding.NoVariable)
	return b.rep
}

// neverThere says once which of the basic quantities the flight has no column of.
func (b *builder) neverThere() {
	have := func(vs ...sounding.Variable) bool {
		for _, v := range vs {
			if b.in.cols.Get(v) != nil {
				return true
			}
		}
		return false
	}
	say := func(v sounding.Variable, severity sounding.Severity, what string) {
		b.find(fact{variable: v, severity: severity, measured: math.NaN(), limit: math.NaN(), sentence: "the flight has no " + what})
	}
	if !have(sounding.Temperature) {
		say(sounding.Temperature, sounding.Bad, "temperature")
	}
	if !have(sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.DewPoint) {
		say(sounding.Humidity, sounding.Questionable, "humidity")
	}
	if !have(sounding.WindSpeed, sounding.WindU, sounding.VelocityEast, sounding.Latitude) {
		say(sounding.WindSpeed, sounding.Questionable, "wind and nothing to compute it from")
	}
	if !have(sounding.Pressure) && !have(sounding.HeightMSL, sounding.GeopotentialHeight, sounding.HeightEllipsoid) {
		say(sounding.Pressure, sounding.Bad, "pressure and no height")
	}
}

func (b *builder) absent(v sounding.Variable, present int, span sounding.Span, lost float64) {
	severity := sounding.Questionable
	if v == sounding.Temperature {
		severity = sounding.Bad
	}
	if (v == sounding.Pressure || v == sounding.HeightMSL) && b.in.present(sounding.Pressure) != nil && b.in.present(sounding.HeightMSL) != nil {
		severity = sounding.Note
	}
	sentence := fmt.Sprintf("%s is missing throughout the ascent", name(v))
	if present > 0 {
		sentence = fmt.Sprintf("%s is missing on %d of the %d rows of the ascent", name(v), span.Len()-present, span.Len())
	}
	b.find(fact{variable: v, severity: severity, spans: []sounding.Span{span}, unflagged: true, measured: lost, limit: b.in.set.Gap.Lost, unit: "%", sentence: sentence})
}

// rowHoles are steps between rows that are long against the usual one.
func (in *input) rowHoles(span sounding.Span) []hole {
	var out []hole
	for i := span.From + 1; i < span.To; i++ {
		if dt := in.time[i] - in.time[i-1]; dt > 2.5*in.interval && dt > 2 {
			out = append(out, in.hole(i-1, i, false))
		}
	}
	return out
}

// otherHoles are stretches in which another radiosonde was received instead, where they
// are long or deep enough to ask for more than the finding that names their rows.
func (in *input) otherHoles(span sounding.Span) []hole {
	var out []hole
	for _, s := range in.ctx.Others {
		if s.From <= span.From || s.To >= span.To {
			continue
		}
		if h := in.hole(s.From-1, s.To, false); h.seconds > in.set.Gap.Long || h.depth > in.set.Gap.LongDepth {
			out = append(out, h)
		}
	}
	return out
}

// valueHoles are stretches of rows without a value. Stretches in which a humidity
// sensor is heated are none.
func (in *input) valueHoles(x []float64, v sounding.Variable, span sounding.Span) []hole {
	var heated []float64
	switch v {
	case sounding.HumidityA:
		heated = in.cols.Values(sounding.HeatingA)
	case sounding.HumidityB:
		heated = in.cols.Values(sounding.HeatingB)
	}
	var out []hole
	last := -1
	for i := span.From; i <= span.To; i++ {
		if i < span.To && math.IsNaN(x[i]) && !(heated != nil && heated[i] > 0) && !(in.others != nil && in.others[i]) {
			continue
		}
		from := last
		if last < 0 {
			from = span.From
		}
		if open := i == span.To; i-from > 1 || open && i-from > 1 {
			out = append(out, in.hole(from, min(i, span.To-1), open))
		}
		last = i
	}
	return out
}

func (in *input) hole(from, to int, open bool) hole {
	h := hole{from: from, to: to, seconds: in.time[to] - in.time[from], depth: math.NaN(), open: open}
	if z := in.riseOf(); z != nil {
		h.depth = math.Abs(z[to] - z[from])
	}
	return h
}

// holes reports them: long ones each, short ones together.
func (b *builder) holes(v sounding.Variable, what string, all []hole, span sounding.Span) {
	in, set := b.in, &b.in.set.Gap
	short, missing, longest, shortHoles := 0, 0.0, 0.0, []sounding.Span{}
	for _, h := range all {
		where := []sounding.Span{{From: h.from, To: h.to + 1}}
		limit := max(set.Short, 2.5*in.interval)
		if h.seconds <= limit && !(h.open && h.seconds > limit/2) {
			short++
			missing += h.seconds
			longest = max(longest, h.seconds)
			shortHoles = append(shortHoles, where...)
			continue
		}
		long := h.seconds > set.Long || h.depth > set.LongDepth
		severity := sounding.Note
		if long {
			severity = sounding.Questionable
		}
		f := fact{variable: v, severity: severity, spans: where, unflagged: true, measured: h.seconds, limit: set.Bridged, unit: "s"}
		verb := "is"
		if v == sounding.NoVariable {
			verb = "are"
		}
		switch {
		case h.open:
			f.sentence = fmt.Sprintf("%s %s missing %s until the end of the ascent, for %.0f s", what, verb, in.place(where...), h.seconds)
		default:
			f.sentence = fmt.Sprintf("%s %s missing for %.0f s %s", what, verb, h.seconds, in.place(where...))
		}
		if !math.IsNaN(h.depth) && h.depth > 100 {
			f.sentence += fmt.Sprintf(" (%.0f m)", h.depth)
		}
		if h.seconds > set.Bridged {
			f.sentence += ": too long to bridge"
		}
		b.find(f)
	}
	if short > 0 {
		b.find(fact{variable: v, severity: sounding.Note, spans: shortHoles, unflagged: true, measured: longest, limit: set.Short, unit: "s",
			sentence: fmt.Sprintf("%s: %s of up to %.0f s, %.0f s in all", what, plural(short, "short gap"), longest, missing)})
	}
}
