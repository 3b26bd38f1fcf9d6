package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// layer is the mean wind of a stretch of the ascent at least so long and so deep.
type layer struct {
	from, to int
	u, v, z  float64
}

// windShear compares the mean wind of neighbouring layers of the ascent, each longer
// than the string's swing, with a largest shear; a wind that turns round at the same
// speed points at a sign or a unit.
func windShear(in *input) sounding.Report {
	b := in.begin(quality.WindShear)
	set := &in.set.WindShear
	u, v, from := in.wind()
	if from == nil {
		return b.rep
	}
	z := in.riseOf()
	if z == nil {
		for _, x := range from {
			b.skipped(x, "neither pressure nor height says how deep a layer is")
		}
		return b.rep
	}
	layers := in.layers(u, v, z)
	var strong, turned []sounding.Span
	worst, worstTurn := 0.0, 0.0
	for k := 1; k < len(layers); k++ {
		a, c := layers[k-1], layers[k]
		depth := math.Abs(c.z - a.z)
		if depth < set.Depth/2 || c.from-a.to > in.rows(set.Mean) {
			continue // a gap lies between
		}
		change := math.Hypot(c.u-a.u, c.v-a.v)
		limit := set.Shear * max(depth, set.Depth)
		if c.z > set.Below {
			limit *= set.AboveFactor
		}
		if change <= limit {
			continue
		}
		span := sounding.Span{From: a.from, To: c.to}
		before, after := math.Hypot(a.u, a.v), math.Hypot(c.u, c.v)
		cos := (a.u*c.u + a.v*c.v) / max(before*after, 1e-9)
		if cos < -0.9 && min(before, after) > 5 && max(before, after) < 1.4*min(before, after) {
			turned = append(turned, span)
			worstTurn = max(worstTurn, change)
			continue
		}
		strong = append(strong, span)
		worst = max(worst, change/depth*100)
	}
	if len(strong) > 0 {
		sentence := fmt.Sprintf("wind changes by %.0f m/s per 100 m %s", worst, in.place(strong...))
		if in.turnsBack(layers) {
			sentence += " and turns back at once: look at the positions there"
		}
		b.both(from, fact{severity: sounding.Questionable, spans: strong, measured: worst, limit: set.Shear * 100, unit: "m/s per 100 m", sentence: sentence})
	}
	if len(turned) > 0 {
		b.both(from, fact{severity: sounding.Questionable, spans: turned, measured: worstTurn, limit: set.Shear * set.Depth, unit: "m/s",
			sentence: fmt.Sprintf("wind turns round by 180° at the same speed %s: a sign or a direction's sense, not the air", in.place(turned...))})
	}
	for _, x := range from {
		b.covered(x, []sounding.Span{in.ascent})
	}
	return b.rep
}

// layers cuts the ascent into layers of mean wind.
func (in *input) layers(u, v, z []float64) []layer {
	set := &in.set.WindShear
	out := make([]layer, 0, 1+in.ascent.Len()*3/max(1, in.rows(set.Mean)))
	start, count := -1, 0.0
	var su, sv, sz float64
	for i := in.ascent.From; i < in.ascent.To; i++ {
		if math.IsNaN(u[i]) || math.IsNaN(v[i]) {
			continue
		}
		if start >= 0 && i > start && in.time[i]-in.time[i-1] > 2*set.Mean {
			start, count = -1, 0 // a gap in the rows
		}
		if start < 0 {
			start, count, su, sv, sz = i, 0, 0, 0, 0
		}
		su, sv, sz, count = su+u[i], sv+v[i], sz+z[i], count+1
		if in.time[i]-in.time[start] >= set.Mean-in.interval/2 && (math.Abs(z[i]-z[start]) >= set.Depth*0.9 || in.time[i]-in.time[start] > 5*set.Mean) {
			out = append(out, layer{start, i + 1, su / count, sv / count, sz / count})
			start = -1
		}
	}
	return out
}

// turnsBack tells whether the strongest change of layer wind is undone by the next layer.
func (in *input) turnsBack(layers []layer) bool {
	for k := 2; k < len(layers); k++ {
		a, m, c := layers[k-2], layers[k-1], layers[k]
		up := math.Hypot(m.u-a.u, m.v-a.v)
		if up > in.set.WindShear.Turn && (m.u-a.u)*(c.u-m.u)+(m.v-a.v)*(c.v-m.v) < -0.5*up*up {
			return true
		}
	}
	return false
}
