package comparison

import (
	"math"

	"leadline/internal/sounding"
)

// pairing says how rows of A and of B come together.
type pairing struct {
	possible bool
	lacking  string // which side has no place along the axis
	n        int    // rows of A

	same sounding.Span // rows compared one by one; used where rowsA is nil

	rowsA, rowsB     []int
	placesA, placesB []float64
	timeB            []float64
	gap              float64
}

func sameRows(a, b *profile) pairing {
	return pairing{possible: true, n: a.side.Values.Len(), same: a.side.Ascent.Clip(b.side.Ascent)}
}

func along(a, b *profile, axis Axis, gap float64) pairing {
	p := pairing{n: a.side.Values.Len(), timeB: b.side.Values.Time, gap: gap}
	p.rowsA, p.placesA = a.rising(axis)
	p.rowsB, p.placesB = b.rising(axis)
	switch {
	case len(p.rowsA) == 0:
		p.lacking = "A"
	case len(p.rowsB) == 0:
		p.lacking = "B"
	default:
		p.possible = true
	}
	return p
}

// brought returns B's values at the rows of A, NaN where there is none.
func (p *pairing) brought(vb []float64) []float64 {
	out := missing(p.n)
	if p.rowsA == nil {
		for i := p.same.From; i < p.same.To; i++ {
			out[i] = vb[i]
		}
		return out
	}
	// The two valid samples of B around each sample of A; both lists rise.
	low, high := -1, next(vb, p.rowsB, 0)
	for k, i := range p.rowsA {
		x := p.placesA[k]
		for high < len(p.rowsB) && p.placesB[high] <= x {
			low, high = high, next(vb, p.rowsB, high+1)
		}
		if low < 0 {
			continue // below B's lowest
		}
		v := vb[p.rowsB[low]]
		if p.placesB[low] == x {
			out[i] = v
			continue
		}
		if high >= len(p.rowsB) {
			continue // above B's highest
		}
		if p.timeB[p.rowsB[high]]-p.timeB[p.rowsB[low]] > p.gap {
			continue
		}
		w := (x - p.placesB[low]) / (p.placesB[high] - p.placesB[low])
		out[i] = v + w*(vb[p.rowsB[high]]-v)
	}
	return out
}

func missing(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.NaN()
	}
	return out
}

// next returns the first place in rows, at or after from, at which v is a number.
func next(v []float64, rows []int, from int) int {
	for from < len(rows) && math.IsNaN(v[rows[from]]) {
		from++
	}
	return from
}

// counting calls f for every row of A that takes part.
func (p *pairing) counting(f func(i int)) {
	if p.rowsA == nil {
		for i := p.same.From; i < p.same.To; i++ {
			f(i)
		}
		return
	}
	for _, i := range p.rowsA {
		f(i)
	}
}

func (p *pairing) differences(va, vb []float64) []float64 {
	out := p.brought(vb)
	for i := range out {
		out[i] -= va[i]
	}
	return out
}

// wind returns differences of speed or direction. B's wind between its samples is that of
// its interpolated components, so that it neither weakens nor turns the long way round;
// directions differ by −180 to 180° and count where both winds are strong enough to have one.
func (p *pairing) wind(a, b *profile, v sounding.Variable, va, vb []float64, calm float64) []float64 {
	ua, wa := components(a)
	ub, wb := components(b)
	if v == sounding.WindSpeed && (p.rowsA == nil || ub == nil) {
		return p.differences(va, vb)
	}
	if v == sounding.WindDirection && (ua == nil || ub == nil) {
		return missing(p.n)
	}
	east, north := p.brought(masked(ub, vb)), p.brought(masked(wb, vb))
	out := missing(p.n)
	p.counting(func(i int) {
		speed := math.Hypot(east[i], north[i])
		if v == sounding.WindSpeed {
			out[i] = speed - va[i]
			return
		}
		if speed >= calm && math.Hypot(ua[i], wa[i]) >= calm {
			out[i] = turned(from(east[i], north[i]) - va[i])
		}
	})
	return out
}

// masked is x where v is a number.
func masked(x, v []float64) []float64 {
	out := make([]float64, len(x))
	for i := range out {
		out[i] = x[i]
		if math.IsNaN(v[i]) {
			out[i] = math.NaN()
		}
	}
	return out
}

// components are the wind towards east and north, from speed and direction where a side has
// no others; nil where it has no wind.
func components(p *profile) (u, v []float64) {
	u, v = p.valid(sounding.WindU), p.valid(sounding.WindV)
	if u != nil && v != nil {
		return u, v
	}
	speed, direction := p.valid(sounding.WindSpeed), p.valid(sounding.WindDirection)
	if speed == nil || direction == nil {
		return nil, nil
	}
	u, v = make([]float64, len(speed)), make([]float64, len(speed))
	for i := range u {
		sin, cos := math.Sincos(direction[i] * math.Pi / 180)
		u[i], v[i] = -speed[i]*sin, -speed[i]*cos
	}
	return u, v
}

// from is the direction the wind blows from, degrees.
func from(u, v float64) float64 { return math.Atan2(-u, -v) * 180 / math.Pi }

// turned brings a difference of directions into −180 < d ≤ 180.
func turned(d float64) float64 {
	d = math.Mod(d, 360)
	switch {
	case d > 180:
		return d - 360
	case d <= -180:
		return d + 360
	}
	return d
}
