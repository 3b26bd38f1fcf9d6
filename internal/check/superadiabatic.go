package check

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

const dryLapse = constants.G0 / constants.Cpd // K/m

// block is a mean over some seconds of the ascent.
type block struct {
	from, to         int // samples
	t, temp, z, logp float64
}

// blocks cuts samples of the ascent into means over so many seconds; z and p hold a
// value for every row.
func (in *input) blocks(s *samples, seconds float64, z, p []float64) []block {
	out := make([]block, 0, 1+int(float64(in.ascent.Len())*in.interval/seconds))
	var b block
	top := math.Inf(-1)
	flush := func(end int) {
		if n := float64(end - b.from); n > 0 {
			b.to = end
			b.t, b.temp, b.z = b.t/n, b.temp/n, b.z/n
			// Pressure of the block from its middle row: the log of a mean is not needed finer.
			b.logp = math.Log(max(p[s.row[(b.from+end)/2]], 1e-3))
			// Only the first pass upwards: while the balloon sinks everything turns round.
			if b.z > top {
				top = b.z
				out = append(out, b)
			}
		}
	}
	start := math.Inf(-1)
	for i := range s.x {
		row := int(s.row[i])
		if !in.ascent.Contains(row) {
			continue
		}
		if s.t[i]-start >= seconds {
			if !math.IsInf(start, -1) {
				flush(i)
			}
			start = s.t[i]
			b = block{from: i}
		}
		b.t, b.temp, b.z = b.t+s.t[i], b.temp+s.x[i], b.z+z[row]
	}
	if !math.IsInf(start, -1) {
		end := b.from
		for end < len(s.x) && in.ascent.Contains(int(s.row[end])) {
			end++
		}
		flush(end)
	}
	return out
}

// superadiabatic finds layers of the ascent in which potential temperature falls with
// height by more than a limit and more than noise explains: air does not do that
// away from a heated ground, a wet or disturbed thermometer does.
func superadiabatic(in *input) sounding.Report {
	b := in.begin(quality.Superadiabatic)
	set := &in.set.Superadiabatic
	s := in.of(sounding.Temperature)
	z, p := in.riseOf(), in.pressureOf()
	switch {
	case s.len() == 0:
		if in.cols.Get(sounding.Temperature) != nil {
			b.skipped(sounding.Temperature, "it has no value in flight")
		}
		return b.rep
	case z == nil:
		b.skipped(sounding.Temperature, "neither pressure nor height is there")
		return b.rep
	}
	blocks := in.blocks(s, set.Block, z, p)
	// Potential temperature by small steps from height where that is measured (its
	// noise costs 0.01 K a metre), else from pressure.
	byHeight := in.moving() != sounding.Pressure
	theta := make([]float64, len(blocks))
	for k, c := range blocks {
		direct := c.temp * math.Exp(constants.Kappa*(math.Log(1000)-c.logp))
		if k == 0 || !byHeight {
			theta[k] = direct
			continue
		}
		a := blocks[k-1]
		theta[k] = theta[k-1] + direct/c.temp*(c.temp-a.temp+dryLapse*(c.z-a.z))
	}
	noise := chunkNoise(theta, 40)
	ground := math.Exp(blocksGround(blocks))
	surface := 0.0
	if len(blocks) > 0 {
		surface = z[s.row[blocks[0].from]]
	}
	day := in.daylight()

	var spans []sounding.Span
	worst, worstLimit, worstAt := 0.0, 0.0, 0
	close := func(peak, low int) {
		pressure := math.Exp(blocks[peak].logp)
		limit := set.Limit
		if ground-pressure <= set.AboveGround {
			limit = set.NearGround
			if blocks[low].z-surface <= set.Surface && day {
				return
			}
		}
		limit += set.Noise * noise[min(low/40, len(noise)-1)]
		drop := theta[peak] - theta[low]
		if drop <= limit {
			return
		}
		if byHeight && in.present(sounding.Pressure) != nil && pressure > 100 {
			// Pressure must not speak against it: else height is at fault.
			direct := func(k int) float64 {
				return blocks[k].temp * math.Exp(constants.Kappa*(math.Log(1000)-blocks[k].logp))
			}
			if direct(peak)-direct(low) < limit/2 {
				return
			}
		}
		// It begins where the last air as warm as the warmest below was met, and lasts
		// until temperature is back on the line of what lies above, where it comes back.
		first := peak
		for k := peak; k < low; k++ {
			if theta[k] >= theta[peak]-max(0.3, 0.1*drop) {
				first = k
			}
		}
		end := blocks[low].to
		if j, back := in.recovered(s, (blocks[low].from+end)/2, min(drop, 2*set.Limit), func(i int) float64 { return s.x[i] + dryLapse*z[s.row[i]] }); back {
			end = max(end, j+1)
		}
		span := s.span(blocks[first].from, end)
		spans = append(spans, span)
		if drop > worst {
			worst, worstLimit, worstAt = drop, limit, len(spans)-1
		}
	}
	peak, low := 0, 0
	for k := 1; k < len(theta); k++ {
		switch {
		case theta[k] < theta[low]:
			low = k
		case theta[k] > theta[peak] || theta[k]-theta[low] > set.Limit:
			if low > peak {
				close(peak, low)
			}
			peak, low = k, k
		}
		if blocks[k].z-blocks[peak].z > 1000 { // a layer is no deeper than that
			if low > peak {
				close(peak, low)
			}
			peak, low = k, k
		}
	}
	if low > peak && len(theta) > 0 {
		close(peak, low)
	}
	if len(spans) > 0 {
		sentence := fmt.Sprintf("potential temperature falls by %.1f K %s: more than air can", worst, in.place(spans[worstAt]))
		if len(spans) > 1 {
			sentence = fmt.Sprintf("potential temperature falls with height in %d layers, most by %.1f K %s: more than air can", len(spans), worst, in.place(spans[worstAt]))
		}
		b.find(fact{variable: sounding.Temperature, severity: sounding.Questionable, spans: joined(spans), measured: worst, limit: worstLimit, unit: "K", sentence: sentence})
	}
	b.covered(sounding.Temperature, []sounding.Span{in.ascent})
	return b.rep
}

func blocksGround(blocks []block) float64 {
	if len(blocks) == 0 {
		return 0
	}
	return blocks[0].logp
}

// chunkNoise returns the robust spread of single values about the line through
// their neighbours, for each chunk of so many values.
func chunkNoise(x []float64, size int) []float64 {
	out := make([]float64, 0, len(x)/size+1)
	d := make([]float64, 0, size)
	for from := 0; from < len(x) || from == 0; from += size {
		d = d[:0]
		for i := max(1, from); i+1 < len(x) && i < from+size; i++ {
			d = append(d, math.Abs(x[i]-0.5*(x[i-1]+x[i+1])))
		}
		m := smooth.NormalConsistency * smooth.Median(d, nil) / math.Sqrt(1.5)
		if math.IsNaN(m) {
			m = 0
		}
		out = append(out, m)
	}
	return out
}
