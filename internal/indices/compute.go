package indices

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/parcel"
)

const noLFC = "no level of free convection: the parcel is nowhere warmer than the air above its LCL"

// values holds every index of one profile, NaN where there is none.
type values [numIndices]float64

// reasons holds why an index has no value.
type reasons [numIndices]string

// work is room that a computation uses again and again.
type work struct {
	s          *source
	rule       parcel.Rule
	condensate parcel.Condensate
	tropopause float64 // ln p of the lowest, NaN where there is none
	refine     float64 // step of levels put in between, in ln p
	ascent     parcel.Ascent
	buoyancy   parcel.Buoyancy
	descent    parcel.Descent
	layers     parcel.LayerSearch
	theta      []float64
	u, v, z    []float64
	why        *reasons // nil in members
	starts     []lifted // of the flight itself
}

// lifted is a parcel of one of the kinds.
type lifted struct {
	kind  int
	start parcel.Start
}

func newWork(s *source, tropopause float64) *work {
	return &work{s: s, rule: parcel.Rule{Layer: layerWords[s.set.Layer], Smallest: s.set.Smallest}, condensate: condensateWords[s.set.Condensate], tropopause: tropopause, refine: s.set.Refine}
}

func (w *work) no(i int, reason string, with ...any) {
	if w.why != nil && w.why[i] == "" {
		w.why[i] = fmt.Sprintf(reason, with...)
	}
}

// compute reads every index off the profile fine; coarse are its layer means, for the
// indices that single samples would decide.
func (w *work) compute(fine, coarse *state, out *values) {
	for i := range out {
		out[i] = math.NaN()
	}
	if len(fine.moist.t) > 0 {
		w.parcels(fine, coarse, out)
		w.surface(fine, out)
		w.downdraft(coarse, out)
		w.water(fine, out)
		w.boundaryLayer(coarse, out)
		w.lowestKilometre(coarse, out)
	}
	if len(fine.t) > 0 {
		w.stability(fine, coarse, out)
		w.melting(fine, coarse, out)
	}
	if len(fine.wz) > 0 {
		w.winds(fine, coarse, out)
	}
	if shear := out[iRichardsonShear]; shear > 0 {
		out[iRichardsonNumber] = out[mixedParcel*parcelItems+pCape] / shear
	} else if shear == 0 {
		w.no(iRichardsonNumber, "there is no shear to divide by")
	}
}

// parcels lifts the three parcels. The most unstable one is the surface parcel or the mean
// of a layer above it, so that the noise of a single sample does not choose it.
func (w *work) parcels(st, coarse *state, out *values) {
	m := &st.moist
	set := w.s.set
	surface := parcel.Start{Pressure: m.p[0], Temperature: m.t[0], Vapour: m.e[0]}
	for kind := range parcelKinds {
		var start parcel.Start
		ok := true
		switch kind {
		case surfaceParcel:
			start = surface
		case mixedParcel:
			start, ok = parcel.MixedStart(m.p, m.t, m.e, set.MixedLayer)
			if !ok {
				w.noParcel(kind, "the profile ends at %s, before the top of the mixed layer", hpa(m.p[len(m.p)-1]))
			}
		case unstableParcel:
			if top := m.p[len(m.p)-1]; top > m.p[0]-set.MostUnstable && top > set.ScanTop {
				ok = false
				w.noParcel(kind, "the profile ends at %s, before the top of the layer that is searched", hpa(top))
				break
			}
			if set.UnstableMean > 0 {
				if start, ok = w.layers.MostUnstableLayer(m.p, m.t, m.e, math.Min(set.MostUnstable, m.p[0]-m.p[len(m.p)-1]), set.UnstableMean); !ok {
					w.noParcel(kind, "the profile ends at %s, before the top of the layer that is searched", hpa(m.p[len(m.p)-1]))
				}
				if start.Equivalent() < surface.Equivalent() {
					start = surface
				}
				break
			}
			c := &coarse.moist
			k := parcel.MostUnstable(c.p, c.t, c.e, set.MostUnstable)
			start = parcel.Start{Pressure: c.p[k], Temperature: c.t[k], Vapour: c.e[k]}
		}
		if ok && w.why != nil {
			w.starts = append(w.starts, lifted{kind, start})
		}
		if ok {
			w.parcel(kind, start, st, out)
		}
	}
}

// noParcel refuses every index of a parcel.
func (w *work) noParcel(kind int, reason string, with ...any) {
	for i := range parcelItems {
		w.no(kind*parcelItems+i, reason, with...)
	}
	if kind == mixedParcel {
		w.no(iReversibleCape, reason, with...)
		w.no(iRichardsonNumber, reason, with...)
	}
}

func (w *work) parcel(kind int, start parcel.Start, st *state, out *values) {
	m := &st.moist
	set := w.s.set
	base := kind * parcelItems
	a, b := &w.ascent, &w.buoyancy
	top := math.Min(set.ScanTop, start.Pressure)
	if !a.Lift(w.s.house, start, top, w.condensate) {
		w.noParcel(kind, "the parcel holds no vapour")
		return
	}
	o := out[base : base+parcelItems]
	o[pStart] = start.Pressure
	o[pTheta] = parcel.EquivalentBolton43(start.Temperature, start.Pressure, start.Vapour, parcel.CondensationBoltonVapour(start.Temperature, start.Vapour))
	o[pLCL], o[pLCLTemperature] = a.Pressure, a.Temperature
	o[pLCLHeight] = st.heightAt(math.Log(a.Pressure))
	if math.IsNaN(o[pLCLHeight]) {
		w.no(base+pLCLHeight, "the profile has no height at %s", hpa(a.Pressure))
	}
	if t500 := st.at[at500].t; start.Pressure > 500 && !math.IsNaN(t500) {
		o[pLifted] = a.Lifted(math.Log(500), t500)
	} else if start.Pressure <= 500 {
		w.no(base+pLifted, "the parcel starts at %s, above 500 hPa", hpa(start.Pressure))
	}

	n := len(m.lnp)
	for n > 0 && m.p[n-1] < set.ScanTop {
		n--
	}
	b.Ascend(a, m.lnp[:n], m.p[:n], m.t[:n], m.tv[:n], w.refine)
	energies := [...]struct {
		c         parcel.Convention
		cape, cin int
	}{{parcel.Virtual, pCape, pCin}, {parcel.Temperature, pCapeT, pCinT}, {parcel.VirtualEnergy, pCapeMixed, pCinMixed}}
	for _, x := range energies {
		e := b.Energy(x.c, w.rule)
		free := !math.IsNaN(e.FreeConvection)
		switch {
		case len(b.LnP) < 2 || b.LnP[len(b.LnP)-1] > math.Log(a.Pressure):
			reason := fmt.Sprintf("the profile ends at %s, below the parcel's condensation level (%s)", hpa(m.p[n-1]), hpa(a.Pressure))
			w.no(base+x.cape, "%s", reason)
			w.no(base+x.cin, "%s", reason)
			if x.c == parcel.Virtual {
				for _, i := range []int{pLFC, pLFCHeight, pEL, pELHeight} {
					w.no(base+i, "%s", reason)
				}
			}
			continue
		case e.Open:
			w.no(base+x.cape, "the parcel is still buoyant where the profile ends (%s): %.0f J/kg up to there", hpa(m.p[n-1]), e.Cape)
		default:
			o[x.cape] = e.Cape
		}
		if free {
			o[x.cin] = e.Cin
		} else {
			w.no(base+x.cin, noLFC)
		}
		if x.c != parcel.Virtual {
			continue
		}
		if w.why != nil {
			w.layersFound(kind, e)
		}
		if !free {
			for _, i := range []int{pLFC, pLFCHeight, pEL, pELHeight} {
				w.no(base+i, noLFC)
			}
			continue
		}
		o[pLFC], o[pLFCHeight] = math.Exp(e.FreeConvection), st.heightAt(e.FreeConvection)
		if e.Open {
			w.no(base+pEL, "the parcel is still buoyant where the profile ends (%s)", hpa(m.p[n-1]))
			w.no(base+pELHeight, "the parcel is still buoyant where the profile ends (%s)", hpa(m.p[n-1]))
			continue
		}
		o[pEL], o[pELHeight] = math.Exp(e.Neutral), st.heightAt(e.Neutral)
	}
	if kind == mixedParcel && w.condensate == parcel.FallsOut && !math.IsNaN(o[pCape]) {
		if a.Lift(w.s.house, start, top, parcel.Stays) {
			b.Ascend(a, m.lnp[:n], m.p[:n], m.t[:n], m.tv[:n], w.refine)
			if e := b.Energy(parcel.Virtual, w.rule); !e.Open {
				out[iReversibleCape] = e.Cape
			} else {
				w.no(iReversibleCape, "the parcel is still buoyant where the profile ends (%s)", hpa(m.p[n-1]))
			}
		}
	}
}

// layersFound notes that a parcel has several buoyant layers.
func (w *work) layersFound(kind int, e parcel.Energy) {
	if e.Layers > 1 {
		w.s.notes = append(w.s.notes, fmt.Sprintf("%s: %d buoyant layers; the %s is given", parcelNames[kind].label, e.Layers, w.s.set.Layer))
	}
}

func (w *work) surface(st *state, out *values) {
	m := &st.moist
	p, t, e := m.p[0], m.t[0], m.e[0]
	house := w.s.house
	out[iWetBulb] = house.WetBulb(p, t, e)
	if e <= 0 {
		for _, i := range []int{iWetBulbPotential, iEquivalent38, iBoltonTemperature, iRompsHeight} {
			w.no(i, "the air at the surface holds no vapour")
		}
		return
	}
	out[iWetBulbPotential] = house.WetBulbPotential(p, t, e)
	out[iBoltonTemperature] = parcel.CondensationBolton(t, math.Min(t, house.DewPoint(e)))
	out[iEquivalent38] = parcel.EquivalentBolton38(t, p, e, out[iBoltonTemperature])
	out[iRompsHeight] = math.Max(0, parcel.CondensationRomps(p, t, e, false).Height)
}

// downdraft works on layer means, for the same reason.
func (w *work) downdraft(st *state, out *values) {
	m := &st.moist
	set := w.s.set
	if top := m.p[len(m.p)-1]; top > m.p[0]-set.Downdraft && top > set.ScanTop {
		w.no(iDowndraft, "the profile ends at %s, before the top of the layer the downdraft may start in", hpa(top))
		w.no(iDowndraftStart, "the profile ends at %s, before the top of the layer the downdraft may start in", hpa(top))
		return
	}
	k := parcel.LeastEquivalent(m.p, m.t, m.e, set.Downdraft)
	out[iDowndraftStart] = m.p[k]
	out[iDowndraft] = w.s.house.Downdraft(m.lnp, m.p, m.t, m.tv, m.e, k, &w.descent)
	if math.IsNaN(out[iDowndraft]) {
		w.no(iDowndraft, "the air it would start from, at %s, holds no vapour", hpa(m.p[k]))
	}
}

func (w *work) water(st *state, out *values) {
	m := &st.moist
	top := w.s.water.top
	if math.IsNaN(top) {
		return
	}
	out[iWater] = parcel.PrecipitableWater(m.p, m.e, top)
	out[iWaterTop], out[iWaterMeasured] = top, w.s.water.measured300
}

// boundaryLayer works on layer means: the first metres decide it, and single samples
// would decide it at random.
func (w *work) boundaryLayer(st *state, out *values) {
	m := &st.moist
	const highest = 6000.0 // m
	w.theta, w.z, w.u, w.v = w.theta[:0], w.z[:0], w.u[:0], w.v[:0]
	for k := range m.z {
		if !(m.z[k] >= 0 && m.z[k] <= highest) || len(w.z) > 0 && m.z[k] <= w.z[len(w.z)-1] {
			continue
		}
		w.z, w.theta = append(w.z, m.z[k]), append(w.theta, m.thetaV(k))
	}
	const near = 10.0 // m: a first level up to here stands for the ground
	switch {
	case len(w.z) < 2:
		w.no(iBoundaryParcel, "too few levels with height")
		w.no(iBoundaryRichardson, "too few levels with height")
		return
	case w.z[0] > near:
		w.no(iBoundaryParcel, "the lowest level with temperature and humidity is %.0f m above the release point", w.z[0])
		w.no(iBoundaryRichardson, "the lowest level with temperature and humidity is %.0f m above the release point", w.z[0])
		return
	}
	w.z[0] = 0
	check := func(i int, h float64, none string) {
		switch {
		case math.IsNaN(h):
			w.no(i, "%s", none)
		case h < w.s.set.BoundaryLowest:
			w.no(i, "it comes out at %.0f m, below %.0f m, where it cannot be told from the errors of the first samples", h, w.s.set.BoundaryLowest)
		default:
			out[i] = h
		}
	}
	check(iBoundaryParcel, parcel.BoundaryLayerParcel(w.z, w.theta, w.s.set.BoundaryExcess), "the virtual potential temperature of the surface is not exceeded in the lowest 6 km")
	if len(st.wz) == 0 {
		return
	}
	for _, h := range w.z {
		x := parcel.WindAt(st.wz, st.wu, st.wv, h)
		w.u, w.v = append(w.u, x.U), append(w.v, x.V)
	}
	check(iBoundaryRichardson, parcel.BoundaryLayerRichardson(w.z, w.theta, w.u, w.v, w.s.set.CriticalNumber), fmt.Sprintf("the bulk Richardson number does not exceed %g in the lowest 6 km", w.s.set.CriticalNumber))
}

// lowestKilometre reads refractivity and stability between the first level and the layer
// mean 1 km above it.
func (w *work) lowestKilometre(st *state, out *values) {
	m := &st.moist
	out[iRefractivity] = m.refractivity(0)
	if !math.IsNaN(st.ground) {
		out[iModified] = humidity.ModifiedRefractivity(out[iRefractivity], st.ground)
	} else {
		w.no(iModified, "the height of the release point is not known")
	}
	lnp := atHeight(m.lnp, m.z, 1000)
	if math.IsNaN(lnp) {
		w.no(iRefractivityGradient, "the profile has no level 1 km above the release point")
		return
	}
	p, t, e := math.Exp(lnp), interpolate(m.lnp, m.t, lnp), interpolate(m.lnp, m.e, lnp)
	out[iRefractivityGradient] = humidity.RefractivityITU.At(p, e, t) - out[iRefractivity]
	tv := interpolate(m.lnp, m.tv, lnp)
	out[iStability1km] = parcel.SquaredBuoyancyFrequency(m.thetaV(0), 0, parcel.PotentialTemperature(tv, p), 1000)
}

// stability reads the levels the indices name off the samples, heights off layer means.
func (w *work) stability(st, coarse *state, out *values) {
	a, b, c := st.at[at850], st.at[at700], st.at[at500]
	house := w.s.house
	td850, td700 := math.NaN(), math.NaN()
	if a.e > 0 {
		td850 = house.DewPoint(a.e)
	}
	if b.e > 0 {
		td700 = house.DewPoint(b.e)
	}
	if a.e == 0 || b.e == 0 {
		for _, i := range []int{iK, iCross, iTotal, iShowalter} {
			w.no(i, "humidity at 850 or 700 hPa is zero: there is no dew point")
		}
	}
	out[iVertical] = parcel.VerticalTotals(a.t, c.t)
	out[iCross] = parcel.CrossTotals(td850, c.t)
	out[iTotal] = parcel.TotalTotals(a.t, td850, c.t)
	out[iK] = parcel.KIndex(a.t-kelvin, td850-kelvin, b.t, td700, c.t-kelvin) // differences in K, the rest in °C
	if a.e > 0 && w.ascent.Lift(house, parcel.Start{Pressure: 850, Temperature: a.t, Vapour: a.e}, 499, w.condensate) {
		out[iShowalter] = w.ascent.Lifted(math.Log(500), c.t)
	}
	z700, z500 := st.heightAt(math.Log(700)), st.heightAt(math.Log(500))
	out[iLapse700] = (b.t - c.t) / (z500 - z700) * 1000
	if lnp := atHeight(coarse.lnp, coarse.z, 3000); !math.IsNaN(lnp) {
		out[iLapse3km] = (coarse.t[0] - interpolate(coarse.lnp, coarse.t, lnp)) / 3
	} else {
		w.no(iLapse3km, "the profile has no level 3 km above the release point")
	}
	w.tropopauseStability(coarse, out)
}

func (w *work) tropopauseStability(st *state, out *values) {
	if math.IsNaN(w.tropopause) {
		return
	}
	depth := w.s.set.StabilityLayer
	z := st.heightAt(w.tropopause)
	theta := func(h float64) float64 {
		lnp := atHeight(st.lnp, st.z, h)
		return parcel.PotentialTemperature(interpolate(st.lnp, st.t, lnp), math.Exp(lnp))
	}
	at := parcel.PotentialTemperature(interpolate(st.lnp, st.t, w.tropopause), math.Exp(w.tropopause))
	out[iStabilityBelow] = parcel.SquaredBuoyancyFrequency(theta(z-depth), z-depth, at, z)
	out[iStabilityAbove] = parcel.SquaredBuoyancyFrequency(at, z, theta(z+depth), z+depth)
	for _, i := range []int{iStabilityBelow, iStabilityAbove} {
		if math.IsNaN(out[i]) {
			w.no(i, "the profile does not hold %.0f m on that side of the tropopause", depth)
		}
	}
}

// melting reads the freezing level off the samples, as the levels do, and the wet-bulb
// zero off layer means.
func (w *work) melting(st, coarse *state, out *values) {
	lnp := parcel.FreezingLevel(st.lnp, st.t)
	if math.IsNaN(lnp) {
		for _, i := range []int{iFreezing, iFreezingHeight} {
			if st.t[0] < constants.ZeroCelsius {
				w.no(i, "the surface is below 0 °C and no layer above it falls through 0 °C")
			} else {
				w.no(i, "the temperature stays above 0 °C up to %s", hpa(st.p[len(st.p)-1]))
			}
		}
	} else {
		out[iFreezing], out[iFreezingHeight] = math.Exp(lnp), st.heightAt(lnp)+st.ground
	}
	m := &coarse.moist
	if len(m.t) == 0 {
		return
	}
	lnp = w.s.house.WetBulbZero(m.lnp, m.p, m.t, m.e)
	if math.IsNaN(lnp) {
		w.no(iWetBulbZero, "the wet-bulb temperature does not fall through 0 °C")
		w.no(iWetBulbZeroHeight, "the wet-bulb temperature does not fall through 0 °C")
		return
	}
	out[iWetBulbZero], out[iWetBulbZeroHeight] = math.Exp(lnp), coarse.heightAt(lnp)+coarse.ground
}

// winds reads shear off the samples at its ends, and what is summed along the hodograph
// off layer means: there the noise of single samples would add up.
func (w *work) winds(st, coarse *state, out *values) {
	out[iShear1] = st.ends[end1].Minus(st.ends[end0]).Length()
	out[iShear3] = st.ends[end3].Minus(st.ends[end0]).Length()
	out[iShear6] = st.ends[end6].Minus(st.ends[end0]).Length()
	z, u, v := coarse.wz, coarse.wu, coarse.wv
	right, left, mean := parcel.StormMotion(z, u, v)
	if math.IsNaN(mean.U) {
		return
	}
	out[iMeanSpeed], out[iMeanDirection] = earth.WindFromUV(mean.U, mean.V)
	out[iRightSpeed], out[iRightDirection] = earth.WindFromUV(right.U, right.V)
	out[iLeftSpeed], out[iLeftDirection] = earth.WindFromUV(left.U, left.V)
	out[iHelicity1Right] = parcel.StormRelativeHelicity(z, u, v, 0, 1000, right)
	out[iHelicity3Right] = parcel.StormRelativeHelicity(z, u, v, 0, 3000, right)
	out[iHelicity1Left] = parcel.StormRelativeHelicity(z, u, v, 0, 1000, left)
	out[iHelicity3Left] = parcel.StormRelativeHelicity(z, u, v, 0, 3000, left)
	out[iRichardsonShear] = parcel.BulkRichardsonShear(z, u, v)
}
