package parcel

import (
	"math"

	"leadline/internal/constants"
)

// Convention says by which temperatures a parcel is compared with the air.
type Convention uint8

// The three conventions in use. On one real profile they give 1372, 1259 and 1345
// J kg⁻¹: an energy without its convention cannot be compared with another.
const (
	// Virtual: virtual temperatures for the crossings and in the integral
	// (Doswell and Rasmussen 1994, Weather and Forecasting 9, 625).
	Virtual Convention = iota
	// Temperature: temperatures for the crossings and in the integral.
	Temperature
	// VirtualEnergy: temperatures for the crossings, virtual temperatures in the integral.
	VirtualEnergy
	NumConventions
)

var conventionWords = [NumConventions]string{
	Virtual:       "virtual temperature for crossings and energy",
	Temperature:   "temperature for crossings and energy",
	VirtualEnergy: "temperature for crossings, virtual temperature for energy",
}

// String returns the convention in words.
func (c Convention) String() string { return conventionWords[c] }

// Layer says which of several buoyant layers is taken.
type Layer uint8

// The choices. Layer words are those of the settings.
const (
	Largest Layer = iota // the one with the most energy
	Lowest               // the lowest
	Highest              // the highest
	Whole                // from the lowest level of free convection to the highest level of neutral buoyancy
)

// Rule is how crossings are made into layers.
type Rule struct {
	Layer Layer
	// Smallest is the least energy in J kg⁻¹ of a buoyant layer that counts, and the
	// least negative energy that separates two.
	Smallest float64
}

// Energy is what a parcel meets on its way up.
type Energy struct {
	FreeConvection float64 // ln p of the level of free convection, NaN where there is none
	Neutral        float64 // ln p of the level of neutral buoyancy, NaN where there is none or the profile ends below it
	Cape           float64 // J kg⁻¹, 0 where there is no level of free convection
	Cin            float64 // J kg⁻¹, ≤ 0: negative parts from the start to the level of free convection; NaN where there is none
	CinNet         float64 // the same with the positive parts below the level of free convection counted too
	Layers         int     // buoyant layers that count
	Open           bool    // the parcel is still buoyant at the top of the profile: Cape is only its part below
}

// Buoyancy holds what Ascend computed: differences between parcel and air at the
// profile's levels, from the parcel's start upwards, the condensation level among them.
type Buoyancy struct {
	LnP         []float64
	Temperature []float64 // parcel minus air, K
	Virtual     []float64 // the same of virtual temperature
	lnLCL       float64
	runs        []run
}

// Ascend compares a lifted parcel with the air. lnp (ln of hPa, falling), p (hPa), t
// and tv (K) are the profile; levels below the parcel's start are passed over, and the
// start itself is compared with the air interpolated there. Where two levels are
// further apart than step in ln p, levels between them are put in, the air linear in
// ln p and the parcel on its curve; step 0 puts in none but the condensation level.
func (b *Buoyancy) Ascend(a *Ascent, lnp, p, t, tv []float64, step float64) {
	b.LnP, b.Temperature, b.Virtual = b.LnP[:0], b.Temperature[:0], b.Virtual[:0]
	b.lnLCL = a.lnLCL
	k := 0
	for k < len(lnp) && lnp[k] > a.lnStart+1e-12 {
		k++
	}
	if k == len(lnp) {
		return
	}
	if k > 0 && lnp[k] < a.lnStart-1e-12 {
		w := (lnp[k-1] - a.lnStart) / (lnp[k-1] - lnp[k])
		b.add(a, a.lnStart, t[k-1]+w*(t[k]-t[k-1]), tv[k-1]+w*(tv[k]-tv[k-1]))
	}
	for i := k; i < len(lnp); i++ {
		if n := len(b.LnP); n > 0 && i > 0 {
			from := b.LnP[n-1]
			gap := lnp[i-1] - lnp[i]
			between := func(x float64) {
				w := (lnp[i-1] - x) / gap
				b.add(a, x, t[i-1]+w*(t[i]-t[i-1]), tv[i-1]+w*(tv[i]-tv[i-1]))
			}
			inside := a.lnLCL < from && a.lnLCL > lnp[i]
			if step > 0 && from-lnp[i] > step*1.0001 {
				m := int(math.Ceil((from - lnp[i]) / step))
				h := (from - lnp[i]) / float64(m)
				for j := 1; j < m; j++ {
					x := from - float64(j)*h
					if inside && a.lnLCL > x {
						between(a.lnLCL)
						inside = false
					}
					between(x)
				}
			}
			if inside {
				between(a.lnLCL)
			}
		}
		pt, ptv := a.at(lnp[i], p[i])
		b.LnP, b.Temperature, b.Virtual = append(b.LnP, lnp[i]), append(b.Temperature, pt-t[i]), append(b.Virtual, ptv-tv[i])
	}
}

func (b *Buoyancy) add(a *Ascent, lnp, t, tv float64) {
	pt, ptv := a.At(lnp)
	b.LnP, b.Temperature, b.Virtual = append(b.LnP, lnp), append(b.Temperature, pt-t), append(b.Virtual, ptv-tv)
}

// run is a stretch in which the parcel is buoyant.
type run struct {
	bottom, top float64 // ln p
	area        float64 // K, integral over ln p
	open        bool
}

// Energy integrates by one convention. The rule for the crossings: at and above the
// condensation level, stretches of positive difference are buoyant layers, each crossing
// linear in ln p between levels; layers whose energy is below rule.Smallest do not
// count, and neither does negative energy smaller than that between two of them, which
// are then one. Of the layers that remain, rule.Layer says which is taken. Its bottom is
// the level of free convection (the condensation level, where the parcel is buoyant
// there), its top the level of neutral buoyancy. Cape is the integral between the two.
func (b *Buoyancy) Energy(c Convention, rule Rule) Energy {
	cross, inside := b.Virtual, b.Virtual
	switch c {
	case Temperature:
		cross, inside = b.Temperature, b.Temperature
	case VirtualEnergy:
		cross = b.Temperature
	}
	nan := math.NaN()
	out := Energy{FreeConvection: nan, Neutral: nan, Cin: nan, CinNet: nan}
	n := len(b.LnP)
	if n < 2 {
		return out
	}
	b.findRuns(cross, inside, rule.Smallest/constants.Rd)
	out.Layers = len(b.runs)
	if len(b.runs) == 0 {
		return out
	}
	r := b.runs[0]
	switch rule.Layer {
	case Largest:
		for _, other := range b.runs[1:] {
			if other.area > r.area {
				r = other
			}
		}
	case Highest:
		r = b.runs[len(b.runs)-1]
	case Whole:
		for _, other := range b.runs[1:] {
			r.area, r.top, r.open = r.area+other.area, other.top, other.open
		}
	}
	out.FreeConvection, out.Cape, out.Open = r.bottom, constants.Rd*r.area, r.open
	if !r.open {
		out.Neutral = r.top
	}
	// Inhibition, from the start to the level of free convection.
	var negative, net float64
	for i := 0; i+1 < n && b.LnP[i] > r.bottom; i++ {
		d := b.LnP[i] - b.LnP[i+1]
		x, y := inside[i], inside[i+1]
		if b.LnP[i+1] < r.bottom {
			w := (b.LnP[i] - r.bottom) / d
			y, d = x+w*(y-x), b.LnP[i]-r.bottom
		}
		net += 0.5 * (x + y) * d
		switch {
		case x <= 0 && y <= 0:
			negative += 0.5 * (x + y) * d
		case x < 0:
			negative += 0.5 * x * d * x / (x - y)
		case y < 0:
			negative += 0.5 * y * d * y / (y - x)
		}
	}
	out.Cin, out.CinNet = constants.Rd*negative, constants.Rd*net
	return out
}

// findRuns fills b.runs with the buoyant stretches that count, lowest first.
func (b *Buoyancy) findRuns(cross, inside []float64, least float64) {
	b.runs = b.runs[:0]
	n := len(b.LnP)
	var current run
	open := false
	between := math.Inf(1) // area since the last run kept, for joining
	finish := func() {
		open = false
		if last := len(b.runs) - 1; last >= 0 && math.Abs(between) < least {
			l := &b.runs[last]
			l.top, l.area, l.open = current.top, l.area+between+current.area, current.open
			between = 0
			return
		}
		if current.area >= least && current.area > 0 {
			b.runs = append(b.runs, current)
			between = 0
			return
		}
		between += current.area
	}
	for i := 0; i+1 < n; i++ {
		low, high := b.LnP[i], b.LnP[i+1]
		if low > b.lnLCL+1e-12 {
			continue // below the condensation level nothing is free convection
		}
		d := low - high
		c0, c1, v0, v1 := cross[i], cross[i+1], inside[i], inside[i+1]
		if c0 > 0 && !open {
			open, current = true, run{bottom: low}
		}
		switch {
		case c0 > 0 && c1 > 0:
			current.area += 0.5 * (v0 + v1) * d
		case c0 <= 0 && c1 <= 0:
			between += 0.5 * (v0 + v1) * d
		default:
			w := c0 / (c0 - c1)
			x, v := low-w*d, v0+w*(v1-v0)
			if c0 > 0 { // leaves
				current.area += 0.5 * (v0 + v) * w * d
				current.top = x
				finish()
				between += 0.5 * (v + v1) * (1 - w) * d
			} else { // enters
				between += 0.5 * (v0 + v) * w * d
				open, current = true, run{bottom: x, area: 0.5 * (v + v1) * (1 - w) * d}
			}
		}
	}
	if open {
		current.top, current.open = b.LnP[n-1], true
		finish()
	}
}

// Downdraft returns the downdraft CAPE in J kg⁻¹ of the air at level source: brought to
// its wet bulb there, it sinks to the lowest level on a pseudo-adiabat, kept saturated
// by rain; the energy is Rd ∫ (Tv − Tv,parcel) d ln p over the whole way, negative parts
// included (after Emanuel 1994, section 6.3, from memory). Columns as in Ascend, e in
// hPa. NaN where the air at source holds no vapour.
func (s *Saturation) Downdraft(lnp, p, t, tv, e []float64, source int, d *Descent) float64 {
	pL, tL := s.condensation(p[source], t[source], e[source])
	if source == 0 {
		return 0
	}
	if !(e[source] > 0 && pL > 0) {
		return math.NaN()
	}
	d.moist.integrate(s, pseudoSlope, math.Log(pL), tL, lnp[0]+1e-9, 0, adiabatStep)
	sum, last := 0.0, 0.0
	for i := source; i >= 0; i-- {
		x := d.moist.at(lnp[i])
		es := s.At(x)
		difference := tv[i] - virtual(x, constants.Epsilon*es/(p[i]-es))
		if i < source {
			sum += 0.5 * (difference + last) * (lnp[i] - lnp[i+1])
		}
		last = difference
	}
	return constants.Rd * sum
}

// Descent is room for Downdraft, to be used again.
type Descent struct{ moist curve }

// LeastEquivalent returns the level of the smallest equivalent potential temperature in
// the lowest depth hPa, the lower of equals; -1 where the columns are empty. It is where
// Downdraft usually starts.
func LeastEquivalent(p, t, e []float64, depth float64) int {
	best, least := -1, math.Inf(1)
	for i := range p {
		if p[i] < p[0]-depth {
			break
		}
		if v := equivalent(t[i], p[i], e[i]); v < least {
			best, least = i, v
		}
	}
	return best
}
