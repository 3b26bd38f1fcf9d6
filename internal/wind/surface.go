package wind

import (
	"fmt"
	"math"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// surface blends the first minute of the ascent to the surface wind: the radiosonde
// is still being pulled up to speed and the string unwinds (docs/methods/surface-wind.md).
func (b *blow) surface() {
	set := &b.set.Surface
	if !set.Blend || len(b.legs) == 0 || b.legs[0].descent {
		return
	}
	l := b.legs[0]
	r := b.ctx.Record
	if r == nil || !r.Surface.WindSpeed.Set() || !r.Surface.WindDirection.Set() && r.Surface.WindSpeed != 0 {
		b.notRun(quality.Baseline, sounding.WindU, "no surface wind in the launch record: the first minute is not blended")
		return
	}
	u0, v0 := earth.UVFromWind(r.Surface.WindSpeed.Value(), r.Surface.WindDirection.Value())
	release := b.ctx.Events.Release.Time.Or(l.time[0])
	// The radiosonde's wind where the blending ends.
	anchor := -1
	for k, i := range l.rows {
		if age := l.time[k] - release; age >= set.Blended && b.u[i] == b.u[i] {
			if age <= 2*set.Blended {
				anchor = k
			}
			break
		}
	}
	if anchor < 0 {
		b.notRun(quality.Baseline, sounding.WindU, "no wind within %.0f s of release to blend the surface wind to", 2*set.Blended)
		return
	}
	top := l.rows[anchor]
	u1, v1 := b.u[top], b.v[top]
	apart := hypot(u1-u0, v1-v0)
	// What is extrapolated down by the logarithmic law is what the mast should see.
	height := func(k int) float64 {
		h := math.NaN()
		if b.heights != nil {
			h = b.heights[l.rows[k]] - r.Site.Height.Value()
		}
		if h != h || h < 0 {
			h = 5 * max(0, l.time[k]-release)
		}
		return h
	}
	ztop := max(height(anchor), 2*set.Anemometer)
	share := math.Log(set.Anemometer/set.Roughness) / math.Log(ztop/set.Roughness)
	doubt := set.Doubt + set.DoubtShare*hypot(u1, v1)
	if d := hypot(share*u1-u0, share*v1-v0); d > doubt {
		b.finding(sounding.Finding{Check: quality.Baseline, Variable: sounding.NoVariable, Severity: sounding.Questionable, Field: "surface.wind_speed_m_s",
			Measured: sounding.Number(d), Limit: sounding.Number(doubt), Unit: "m s-1",
			Sentence: fmt.Sprintf("the surface wind lies %.1f m/s from what the radiosonde's wind at %.0f m lets expect at the mast: check its unit (knots?) and direction; the first minute is not blended to it", d, ztop)})
		return
	}
	u, v := append([]float64(nil), b.u...), append([]float64(nil), b.v...)
	independent, common := append([]float64(nil), b.independent...), append([]float64(nil), b.commonU...)
	flags := append([]quality.Flag(nil), b.flags...)
	changed := 0
	for k := 0; k < anchor; k++ {
		i := l.rows[k]
		age := l.time[k] - release
		x := 0.0
		if z := height(k); z > set.Anemometer {
			x = min(1, math.Log(z/set.Anemometer)/math.Log(ztop/set.Anemometer))
		}
		law, low := u0+x*(u1-u0), v0+x*(v1-v0)
		w := min(1, max(0, (age-set.Unwound)/(set.Blended-set.Unwound)))
		w = w * w * (3 - 2*w)
		if b.u[i] != b.u[i] {
			w = 0
		}
		difference := 0.0
		if w > 0 {
			difference = hypot(b.u[i]-law, b.v[i]-low) / math.Sqrt2
			u[i], v[i] = law+w*(b.u[i]-law), low+w*(b.v[i]-low)
		} else {
			u[i], v[i] = law, low
			if flags[i] == 0 || flags[i] == quality.Missing {
				flags[i] = quality.NotEvaluated
			}
		}
		// Between the mast and the radiosonde the law is good to a fraction of the shear.
		bend := 4 * x * (1 - x) * 0.3 * apart
		independent[i] = hypot(w*b.independent[i], hypot((1-w)*bend, w*(1-w)*difference))
		common[i] = hypot((1-w)*set.U, b.commonU[i])
		changed++
	}
	if changed == 0 {
		return
	}
	b.flags = flags
	b.pair("surface-wind", sounding.StepCorrect, u, v, independent, common, nil,
		[]sounding.Coefficient{
			numberOf("surface_u", u0, "m s-1", "launch record"), numberOf("surface_v", v0, "m s-1", "launch record"),
			numberOf("blended_below", ztop, "m above the release point", "computed"), numberOf("roughness", set.Roughness, "m", "settings"),
		},
		fmt.Sprintf("first %.0f s blended from the surface wind by the logarithmic law, up to %.0f m", set.Blended, ztop))
}
