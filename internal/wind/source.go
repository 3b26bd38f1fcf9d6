package wind

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// source chooses where the wind comes from and fills in its raw components; false
// where the flight has none.
func (b *blow) source() bool {
	has := map[origin]bool{
		velocity: b.holds(sounding.VelocityEast) && b.holds(sounding.VelocityNorth),
		position: b.holds(sounding.Latitude) && b.holds(sounding.Longitude),
		reported: b.holds(sounding.WindU) && b.holds(sounding.WindV) || b.holds(sounding.WindSpeed) && b.holds(sounding.WindDirection),
	}
	order := []origin{velocity, reported, position}
	if s := b.ctx.Sheet; s != nil {
		order = []origin{velocity, position, reported}
		if s.Wind.From != "" {
			order = append([]origin{origin(s.Wind.From)}, order...)
		}
	}
	for _, o := range order {
		if has[o] && (o == reported || len(b.legs) > 0) {
			b.from = o
			break
		}
	}
	switch b.from {
	case velocity:
		b.fromVelocity(has[position])
	case position:
		b.fromPosition()
	case reported:
		b.fromReported()
	default:
		b.notRun(quality.Pendulum, sounding.WindU, "the flight has no wind: neither velocity nor position nor reported wind between release and landing")
		return false
	}
	return true
}

// fromVelocity takes the radiosonde's own velocity for the wind, and that from
// positions where the velocity is missing.
func (b *blow) fromVelocity(positions bool) {
	u, v := constant(b.n, math.NaN()), constant(b.n, math.NaN())
	east, north := b.usable(sounding.VelocityEast), b.usable(sounding.VelocityNorth)
	independent := constant(b.n, b.noise)
	filled := 0
	for _, l := range b.legs {
		missing := false
		for _, i := range l.rows {
			if east[i] == east[i] && north[i] == north[i] {
				u[i], v[i] = east[i], north[i]
			} else {
				missing = true
			}
		}
		if !missing || !positions {
			continue
		}
		pu, pv := b.differences(l)
		for k, i := range l.rows {
			if u[i] != u[i] && pu[k] == pu[k] {
				u[i], v[i] = pu[k], pv[k]
				independent[i] = b.positionNoise()
				filled++
			}
		}
	}
	b.rollFlags(sounding.VelocityEast, sounding.VelocityNorth)
	b.pair("wind", sounding.StepDerive, u, v, independent, constant(b.n, b.common), nil,
		[]sounding.Coefficient{numberOf("from_position", float64(filled), "rows", "computed")},
		"velocity of the radiosonde by satellite")
}

// positionNoise is the noise of a velocity from two positions.
func (b *blow) positionNoise() float64 {
	sigma := 2.0
	if b.ctx.Sheet != nil && b.ctx.Sheet.Position.Horizontal > 0 {
		sigma = b.ctx.Sheet.Position.Horizontal
	}
	return math.Sqrt2 * sigma / b.set.Source.PositionSpan
}

// fromPosition makes velocities of positions.
func (b *blow) fromPosition() {
	u, v := constant(b.n, math.NaN()), constant(b.n, math.NaN())
	for _, l := range b.legs {
		pu, pv := b.differences(l)
		for k, i := range l.rows {
			u[i], v[i] = pu[k], pv[k]
		}
	}
	b.rollFlags(sounding.Latitude, sounding.Longitude)
	b.pair("wind", sounding.StepDerive, u, v, constant(b.n, b.positionNoise()), constant(b.n, b.common), nil,
		[]sounding.Coefficient{numberOf("span", b.set.Source.PositionSpan, "s", "settings")},
		"displacement between positions, measured at the balloon's height")
}

// differences returns the velocity of a leg's positions: the displacement across a
// span of time centred on each sample, at the height of the balloon. NaN where the
// span would hold a missing end within the longest span allowed.
func (b *blow) differences(l leg) (u, v []float64) {
	lat, lon := gather(b.usable(sounding.Latitude), l.rows), gather(b.usable(sounding.Longitude), l.rows)
	height := b.usable(sounding.HeightEllipsoid)
	if !b.holds(sounding.HeightEllipsoid) {
		height = b.usable(sounding.HeightMSL) // the undulation changes a distance by 1e-5
	}
	h := gather(height, l.rows)
	last := 0.0
	for k, x := range h {
		if x != x {
			h[k] = last
		}
		last = h[k]
	}
	n := len(l.rows)
	u, v = constant(n, math.NaN()), constant(n, math.NaN())
	half := 0.5 * b.set.Source.PositionSpan
	lo, hi := 0, 0
	for k := range n {
		if lat[k] != lat[k] || lon[k] != lon[k] {
			continue
		}
		for lo < k && l.time[lo+1] <= l.time[k]-half+1e-6 {
			lo++
		}
		hi = max(hi, k)
		for hi < n-1 && l.time[hi] < l.time[k]+half-1e-6 {
			hi++
		}
		i, j := lo, hi
		for i < k && lat[i] != lat[i] {
			i++
		}
		for j > k && lat[j] != lat[j] {
			j--
		}
		if i == j || l.time[j]-l.time[i] > b.set.Source.LongestSpan {
			continue
		}
		// A lopsided span would date the wind wrongly by half its excess.
		if left, right := l.time[k]-l.time[i], l.time[j]-l.time[k]; math.Abs(left-right) > half+1e-6 && k > 0 && k < n-1 {
			continue
		}
		east, north := earth.Displacement(lat[i], lon[i], h[i], lat[j], lon[j], h[j])
		u[k], v[k] = east/(l.time[j]-l.time[i]), north/(l.time[j]-l.time[i])
	}
	return u, v
}

// fromReported takes the wind as the source reports it.
func (b *blow) fromReported() {
	if b.holds(sounding.WindU) && b.holds(sounding.WindV) {
		b.u, b.v = b.cols.Values(sounding.WindU), b.cols.Values(sounding.WindV)
		b.rollFlags(sounding.WindU, sounding.WindV)
		return
	}
	speed, direction := b.usable(sounding.WindSpeed), b.usable(sounding.WindDirection)
	u, v := constant(b.n, math.NaN()), constant(b.n, math.NaN())
	for i := range u {
		u[i], v[i] = earth.UVFromWind(speed[i], direction[i])
	}
	b.rollFlags(sounding.WindSpeed, sounding.WindDirection)
	b.pair("wind", sounding.StepDerive, u, v, constant(b.n, b.noise), constant(b.n, b.common), nil, nil,
		"components of the reported speed and direction")
}

// reportedBudget states the uncertainty of reported winds, which are left as they are.
func (b *blow) reportedBudget() {
	b.independent, b.commonU = constant(b.n, b.noise), constant(b.n, b.common)
	b.notRun(quality.Pendulum, sounding.WindU, "the wind is reported by the source, already filtered there: it is not filtered again")
}

// rollFlags gives the components the worse flag of two inputs. A bad input is not
// used, so that its row is missing here or filled from elsewhere.
func (b *blow) rollFlags(inputs ...sounding.Variable) {
	b.flags, b.tests = make([]quality.Flag, b.n), make([]quality.Bits, b.n)
	own := inputs[0] == sounding.WindU
	for i := range b.flags {
		worst, good := quality.Flag(0), true
		var bits quality.Bits
		for _, v := range inputs {
			s := b.cols.Get(v)
			if s.Flags == nil {
				good = false
				continue
			}
			good = good && s.Flags[i] == quality.Good
			worst = quality.Worst(worst, s.Flags[i])
			if s.Tests != nil {
				bits |= s.Tests[i]
			}
		}
		switch {
		case own:
			b.flags[i], b.tests[i] = worst, bits
		case worst == quality.Questionable:
			b.flags[i], b.tests[i] = quality.Questionable, quality.Derived.Bit()
		case good:
			b.flags[i] = quality.Good
		default:
			b.flags[i] = quality.NotEvaluated
		}
	}
}
