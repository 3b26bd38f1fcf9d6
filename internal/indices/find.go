package indices

import (
	"fmt"
	"math"
	"strings"

	"leadline/internal/constants"
	"leadline/internal/levels"
	"leadline/internal/parcel"
	"leadline/internal/sounding"
)

// Find reads every index off the profile of a final flight: its ascent, or what package
// profile made of it. table holds its levels (for
// the tropopause); nil is no table, and nil settings are the shipped ones. Settings that cannot be right give a set without a
// value, whose refusals say so. Nothing given is changed; the same input gives the same
// numbers.
func Find(f *sounding.Final, table *levels.Set, set *Settings) Set {
	if set == nil {
		set = Default()
	}
	if err := set.Validate(); err != nil {
		out := Set{Profile: string(f.ProfileKind()), ProfileNote: f.Origin.Note, Parcels: []Parcel{}, Inversions: []Inversion{}, Ducts: []Duct{}, Notes: []string{}}
		var why reasons
		for i := range why {
			why[i] = err.Error()
		}
		out.fill(set, nil, &values{}, &why, &reasons{}, nil)
		return out
	}
	s := read(f, set)
	out := Set{Profile: string(f.ProfileKind()), ProfileNote: f.Origin.Note, Samples: s.air.len(), Members: set.Members, Seed: set.Seed, Saturation: set.Saturation.String(),
		Sensor: s.sensor.Formula().String(), Constants: constants.Version, Parcels: []Parcel{}, Inversions: []Inversion{}, Ducts: []Duct{}, Notes: []string{}}

	tropopause := math.NaN()
	if table != nil {
		if list := table.Of(levels.Tropopause); len(list) > 0 {
			tropopause = math.Log(list[0].Pressure.Value())
		}
	}
	var points [numPoints]pointSource
	for i, p := range pointPressure {
		points[i] = s.at(p)
	}
	var ends [numEnds]endSource
	for i, h := range endHeight {
		ends[i] = s.end(h)
	}
	x := newExperiment(s, points, ends)

	// The flight itself.
	var fine, coarse state
	fine.fill(s, &s.air, &s.wind)
	coarse.fill(s, &x.air, &x.wind)
	for i := range points {
		fine.at[i] = airPoint{points[i].t, 0.01 * points[i].rh * s.sensor.At(points[i].t)}
	}
	for i := range ends {
		fine.ends[i] = parcel.Vector{U: ends[i].u, V: ends[i].v}
	}
	w := newWork(s, tropopause)
	var found values
	var why reasons
	w.why = &why
	w.compute(&fine, &coarse, &found)
	w.why = nil
	notes := s.refuse(w, &points, &ends, &found, &why)
	for _, x := range w.starts {
		// A parcel whose start is refused is not shown either.
		if !math.IsNaN(found[x.kind*parcelItems+pStart]) {
			out.Parcels = append(out.Parcels, Parcel{strings.ReplaceAll(parcelNames[x.kind].name, "_", " "), sounding.Number(x.start.Pressure), sounding.Number(x.start.Temperature), sounding.Number(x.start.Vapour)})
		}
	}

	var spreads *[numIndices]spread
	if set.Members > 0 && s.air.len()+len(s.wind.z) > 0 {
		var wanted [numIndices]bool
		for i := range wanted {
			wanted[i] = !math.IsNaN(found[i])
		}
		list, _ := x.run(w, set.Members, set.Seed, &wanted)
		spreads = &list
	}
	out.Inversions = append(out.Inversions, s.inversions(&x.air, &coarse)...)
	// Ducts have sharp edges: layers half as thick.
	thinner := s.air.layers(set.LayerLnP / 2)
	coarse.fill(s, &thinner, &x.wind)
	out.Ducts = append(out.Ducts, s.ducts(f, &thinner, &coarse)...)
	out.Notes = append(out.Notes, s.notes...)
	if s.exactP && s.air.len() > 0 {
		out.Notes = append(out.Notes, "no uncertainty of pressure is given: it is taken as exact")
	}
	out.fill(set, s, &found, &why, &notes, spreads)
	return out
}

// refuse takes back what was computed across missing data, and gives every index that
// has no value a reason. It returns notes on what was computed from questionable samples.
func (s *source) refuse(w *work, points *[numPoints]pointSource, ends *[numEnds]endSource, found *values, why *reasons) (notes reasons) {
	no := func(reason string, list ...int) {
		if reason == "" {
			return
		}
		for _, i := range list {
			found[i], why[i] = math.NaN(), reason
		}
	}
	// doubt notes the questionable samples an index was made from; only the first layer
	// named for it counts.
	doubt := func(note string, list ...int) {
		for _, i := range list {
			if notes[i] == "" {
				notes[i] = note
			}
		}
	}
	// layer refuses or notes what lies between two pressures.
	layer := func(bottom, top float64, humid bool, list ...int) {
		no(s.missing(bottom, top, humid), list...)
		doubt(s.doubtful(bottom, top, humid), list...)
	}
	first := func(list ...string) string {
		for _, r := range list {
			if r != "" {
				return r
			}
		}
		return ""
	}
	a, b, c := &points[at850], &points[at700], &points[at500]
	no(first(a.noT, c.noT), iVertical)
	no(first(a.noH, c.noT), iCross, iTotal, iShowalter)
	no(first(a.noH, b.noH, c.noT), iK)
	no(first(b.noT, c.noT), iLapse700)

	for i := range ends {
		if r := ends[i].no; r != "" {
			no(r, []int{iShear1, iShear3, iShear6}[max(0, i-1):]...)
		}
	}
	if s.noT == "" {
		layer(850, 850, false, iVertical)
		layer(850, 850, true, iCross, iTotal, iShowalter, iK)
		layer(700, 700, true, iK)
		layer(700, 700, false, iLapse700)
		doubt(s.doubtful(s.air.p[0], s.water.top, true), iWater)
		layer(500, 500, false, iVertical, iCross, iTotal, iShowalter, iK, iLapse700)
	}
	wind := func(top float64, list ...int) {
		no(s.missingWind(top), list...)
		doubt(s.doubtfulWind(top), list...)
	}
	doubt(s.doubtfulWind(1000), iShear1)
	doubt(s.doubtfulWind(3000), iShear3)
	doubt(s.doubtfulWind(6000), iShear6)
	wind(1000, iHelicity1Right, iHelicity1Left)
	wind(3000, iHelicity3Right, iHelicity3Left)
	wind(6000, iMeanSpeed, iMeanDirection, iRightSpeed, iRightDirection, iLeftSpeed, iLeftDirection, iRichardsonShear, iRichardsonNumber,
		iHelicity1Right, iHelicity1Left, iHelicity3Right, iHelicity3Left)

	if s.noT != "" {
		for i := range found {
			if definitions[i].needs&needW == 0 {
				no(s.noT, i)
			}
		}
		no(s.noT, iRichardsonNumber, iBoundaryRichardson)
	} else {
		s.refuseLayers(w, found, no, layer)
	}
	if s.noT == "" && s.noH != "" {
		for i := range found {
			if definitions[i].needs&needH != 0 || i == iWaterTop || i == iWaterMeasured {
				no(s.noH, i)
			}
		}
	}
	for kind := range parcelKinds {
		if i := kind*parcelItems + pLifted; math.IsNaN(found[i]) && why[i] == "" {
			why[i] = c.noT
		}
	}
	if i := iReversibleCape; math.IsNaN(found[i]) && why[i] == "" {
		why[i] = why[mixedParcel*parcelItems+pCape]
		if s.set.Condensate == "stays" {
			why[i] = "the settings lift every parcel reversibly already"
		}
	}
	if i := iLapse700; math.IsNaN(found[i]) && why[i] == "" {
		why[i] = "the height of 700 or 500 hPa is not known"
	}
	if why[iRichardsonNumber] == "" && math.IsNaN(found[iRichardsonNumber]) {
		why[iRichardsonNumber] = "the CAPE it needs has no value: " + why[mixedParcel*parcelItems+pCape]
	}
	if math.IsNaN(w.tropopause) {
		no(first(s.noT, "no tropopause was found"), iStabilityBelow, iStabilityAbove)
	}
	if s.air.len() > 0 && math.IsNaN(s.ground) {
		for i := range found {
			if definitions[i].unit == "m" && i != iRompsHeight {
				no("the height of the release point is not known", i)
			}
		}
	}
	for i := range found {
		if math.IsNaN(found[i]) && why[i] == "" {
			why[i] = "the profile does not hold what it is computed from"
		}
	}
	return notes
}

// refuseLayers refuses what was computed across a layer with missing data.
func (s *source) refuseLayers(w *work, found *values, no func(string, ...int), layer func(bottom, top float64, humid bool, list ...int)) {
	bottom := s.air.p[0]
	if len(s.gapT) > 0 {
		bottom = math.Max(bottom, s.gapT[0].bottom)
	}
	end := s.set.ScanTop
	if !math.IsNaN(w.tropopause) {
		end = math.Exp(w.tropopause)
	}
	for kind := range parcelKinds {
		o := kind * parcelItems
		start := found[o+pStart]
		if math.IsNaN(start) {
			continue
		}
		// What the start itself is made from.
		made := start
		switch kind {
		case mixedParcel:
			made = start - s.set.MixedLayer
		case unstableParcel:
			made = bottom - s.set.MostUnstable
		}
		if r := s.missing(bottom, math.Min(made, bottom-1e-9), true); r != "" {
			for i := range parcelItems {
				no(r, o+i)
			}
			if kind == mixedParcel {
				no(r, iReversibleCape, iRichardsonNumber)
			}
			continue
		}
		within := func(top float64, list ...int) {
			if math.IsNaN(top) {
				top = end
			}
			layer(start, top, true, list...)
		}
		lfc, el := found[o+pLFC], found[o+pEL]
		within(lfc, o+pLFC, o+pLFCHeight, o+pCin, o+pCinT, o+pCinMixed)
		within(el, o+pCape, o+pCapeT, o+pCapeMixed, o+pEL, o+pELHeight)
		if kind == mixedParcel {
			within(el, iReversibleCape, iRichardsonNumber)
		}
		no(s.missing(found[o+pLCL]+0.01, found[o+pLCL]-0.01, false), o+pLCLHeight)
		layer(bottom, math.Min(made, bottom-1e-9), true, o+pStart, o+pTheta, o+pLCL, o+pLCLHeight, o+pLCLTemperature, o+pLifted)
	}
	layer(bottom, s.air.p[0]-0.01, true, iWetBulb, iWetBulbPotential, iEquivalent38, iRompsHeight, iBoltonTemperature, iRefractivity, iModified, iRefractivityGradient, iStability1km)
	layer(bottom, bottom-s.set.Downdraft, true, iDowndraft, iDowndraftStart)
	if m := s.water.missing500; m > s.set.WaterMissing {
		no(fmt.Sprintf("%.0f %% of the layer between the surface and 500 hPa has no measured humidity", 100*m), iWater, iWaterTop)
	}
	if v := found[iFreezing]; !math.IsNaN(v) {
		layer(bottom, v, false, iFreezing, iFreezingHeight)
	} else {
		layer(bottom, s.air.p[s.air.len()-1], false, iFreezing, iFreezingHeight)
	}
	if v := found[iWetBulbZero]; !math.IsNaN(v) {
		layer(bottom, v, true, iWetBulbZero, iWetBulbZeroHeight)
	} else {
		layer(bottom, math.Min(500, s.air.p[0]-1), true, iWetBulbZero, iWetBulbZeroHeight)
	}
	for _, i := range []int{iBoundaryParcel, iBoundaryRichardson} {
		if h := found[i]; !math.IsNaN(h) {
			layer(bottom, s.pressureAt(h), true, i)
		}
	}
	if h := found[iBoundaryRichardson]; !math.IsNaN(h) {
		no(s.missingWind(h), iBoundaryRichardson)
	} else if s.wind.reason != "" {
		no(s.wind.reason, iBoundaryRichardson)
	}
	if p := s.pressureAt(1000); !math.IsNaN(p) {
		layer(p+0.01, p-0.01, true, iRefractivityGradient, iStability1km)
	} else {
		no("the profile has no level 1 km above the release point", iRefractivityGradient, iStability1km)
	}
	if p := s.pressureAt(3000); !math.IsNaN(p) {
		layer(p+0.01, p-0.01, false, iLapse3km)
		layer(bottom, s.air.p[0]-0.01, false, iLapse3km)
	}
}

// pressureAt returns the pressure in hPa at height h in m above ground, NaN where the
// flight does not reach it.
func (s *source) pressureAt(h float64) float64 {
	c := &s.air
	for k := range c.z {
		if c.z[k]-s.ground >= h {
			return c.p[k]
		}
	}
	return math.NaN()
}

// fill writes the list of indices.
func (out *Set) fill(set *Settings, s *source, found *values, why, notes *reasons, spreads *[numIndices]spread) {
	out.Indices = make([]Index, numIndices)
	for i, d := range definitions {
		x := &out.Indices[i]
		*x = Index{Name: d.name, Label: d.label, Unit: d.unit, Convention: convention(d.convention, set), Profile: out.Profile,
			Value: sounding.NotSet, Uncertainty: sounding.NotSet, Common: sounding.NotSet, Low: sounding.NotSet, High: sounding.NotSet, Share: sounding.NotSet}
		if why[i] != "" {
			x.Refusal = why[i]
			continue
		}
		x.Value, x.Note = sounding.Number(found[i]), notes[i]
		if spreads == nil || d.needs == 0 {
			continue
		}
		if missing := s.withoutUncertainty(d.needs); missing != "" {
			x.Note = also(x.Note, "no uncertainty: that of "+missing+" is not known")
			continue
		}
		v := spreads[i]
		if u := startUncertainty(s, i, found[i]); u > 0 {
			// The experiment moves levels by the common error alone; see member.
			v.u = math.Hypot(v.u, u)
			v.low, v.high = math.Min(v.low, found[i]-1.96*v.u), math.Max(v.high, found[i]+1.96*v.u)
		}
		x.Uncertainty, x.Common = sounding.Number(v.u), sounding.Number(v.common)
		x.Low, x.High, x.Share = sounding.Number(v.low), sounding.Number(v.high), sounding.Number(v.share)
		if v.share < 0.95 {
			x.Note = also(x.Note, fmt.Sprintf("only %.0f %% of the members have a value", 100*v.share))
		}
	}
}

// also joins notes.
func also(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// startUncertainty is the independent uncertainty of a pressure that is read, not
// computed: where a parcel starts; 0 for every other index.
func startUncertainty(s *source, i int, p float64) float64 {
	if i != iDowndraftStart && (i >= parcelKinds*parcelItems || i%parcelItems != pStart) {
		return 0
	}
	k := searchFalling(s.air.lnp, math.Log(p))
	return s.air.pi[k]
}

func (s *source) withoutUncertainty(n need) string {
	var list []string
	if n&needT != 0 && !s.uT {
		list = append(list, "temperature")
	}
	if n&needH != 0 && !s.uH {
		list = append(list, "humidity")
	}
	if n&needW != 0 && !s.uW {
		list = append(list, "wind")
	}
	return strings.Join(list, " and ")
}

// convention puts the choices of the settings into words.
func convention(text string, set *Settings) string {
	rest, parcels := strings.CutPrefix(text, pseudo)
	if !parcels {
		return text
	}
	ascent := pseudo
	if set.Condensate == "stays" {
		ascent = "reversible, all condensate stays; "
	}
	return ascent + rest + "; " + set.Layer + " buoyant layer"
}
