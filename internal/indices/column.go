package indices

import (
	"fmt"
	"math"
	"strings"

	"leadline/internal/constants"
	"leadline/internal/humidity"
	"leadline/internal/levels"
	"leadline/internal/parcel"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// What is known of a level's humidity.
const (
	absent  uint8 = iota // not known, and it matters: the level is not used where vapour is
	known                // measured
	assumed              // not known, air so cold that it is taken as dry
)

// column holds the levels with a temperature, pressure falling: the samples of the
// flight, or layer means of them.
type column struct {
	time, lnp, p, t, rh, z []float64 // s, ln hPa, hPa, K, %, m above mean sea level; z NaN where not known
	status                 []uint8   // of rh
	// Number of questionable samples of temperature and humidity before each level; nil for layer means.
	doubtT, doubtH []int32
	// Standard uncertainties, independent and common part, 0 where not given.
	ti, tc, hi, hc, pi, pc, zi, zc []float64
	// Slopes by ln p: what an error of pressure does to the value at a fixed pressure.
	gt, gh []float64
}

func (c *column) len() int { return len(c.lnp) }

// windColumn holds the levels with wind and height, heights rising from the ground.
type windColumn struct {
	time, lnp, z, u, v []float64 // z in m above ground, the first 0
	ui, uc, vi, vc, zi []float64
	doubt              []int32 // number of questionable samples before each
	reason             string  // why there is none
}

// gap is a layer that nothing is read across.
type gap struct {
	bottom, top float64 // hPa, or m above ground for wind
}

func (g gap) text() string { return fmt.Sprintf("from %s to %s", hpa(g.bottom), hpa(g.top)) }

// hpa writes a pressure as forecasters do.
func hpa(p float64) string {
	if p < 100 {
		return fmt.Sprintf("%.1f hPa", p)
	}
	return fmt.Sprintf("%.0f hPa", p)
}

// source is what is read off a flight once, before anything is computed.
type source struct {
	set        *Settings
	sensor     *parcel.Saturation // relative humidity to vapour pressure
	house      *parcel.Saturation
	air        column
	wind       windColumn
	gapT, gapH []gap // of temperature, of humidity where it matters
	gapW       []gap // of wind, m above ground
	noT, noH   string
	uT, uH, uW bool             // uncertainty is known
	exactP     bool             // no uncertainty of pressure is given
	height     *sounding.Series // above mean sea level, or geopotential where the flight has none; nil where it has neither
	ground     float64          // height of the first level that has one, NaN where none does within 80 m
	water      waterColumn
	notes      []string
	kind       sounding.ProfileKind
	bottom     float64 // hPa, where the profile should begin
}

// noSample says that the profile holds nothing usable of a quantity.
func (s *source) noSample(f *sounding.Final, what string) string {
	return fmt.Sprintf("no sample of the %s has a usable %s", f.ProfileKind(), what)
}

// waterColumn says what of the humidity was measured.
type waterColumn struct {
	top         float64 // hPa, last measured humidity at or below the ground of WaterTop
	measured300 float64 // share of the pressure depth between surface and 300 hPa
	missing500  float64 // share not measured between surface and 500 hPa
}

// part returns one part of a series' uncertainty at row i, 0 where it is not given.
func part(x []float64, i int) float64 {
	if x == nil || math.IsNaN(x[i]) {
		return 0
	}
	return x[i]
}

// read picks the samples of the first passage of the ascent.
func read(f *sounding.Final, set *Settings) *source {
	s := &source{set: set, house: parcel.SaturationBy(set.Saturation), ground: math.NaN()}
	s.sensor = s.house
	if f.Sheet != nil && f.Sheet.Humidity.Formula != "" {
		if formula, err := humidity.ParseFormula(f.Sheet.Humidity.Formula); err == nil && formula != humidity.IAPWS {
			s.sensor = parcel.SaturationBy(formula)
		} else {
			s.notes = append(s.notes, fmt.Sprintf("instrument sheet names the vapour pressure formula %q, which cannot be used: %v is used for the sensor's humidity", f.Sheet.Humidity.Formula, set.Saturation))
		}
	}
	profile := levels.NewProfile(f, &levels.Settings{GapS: set.GapS, GapHPa: set.GapHPa})
	if profile.Len() == 0 {
		s.noT = fmt.Sprintf("there is no %s with a usable pressure", f.ProfileKind())
		s.noH, s.wind.reason = s.noT, s.noT
		return s
	}
	s.height = f.Get(sounding.HeightMSL)
	if s.height == nil {
		s.height = f.Get(sounding.GeopotentialHeight)
	}
	s.kind = f.ProfileKind()
	if o := &f.Origin; !o.OnTheGround() {
		s.ground = o.GroundHeight.Value()
		if f.Get(sounding.HeightMSL) == nil {
			s.ground = o.GroundGeopotential.Value()
		}
		p0, p := o.GroundPressure.Value(), math.Exp(profile.LnP[0])
		if d := p0 - p; math.Abs(d) < s.set.GapHPa {
			side := "above"
			if d < 0 {
				side = "below"
			}
			s.notes = append(s.notes, fmt.Sprintf("the lowest level of the %s, %.1f hPa %s the release point, stands for the surface", s.kind, math.Abs(d), side))
		}
	}
	for k, i := range profile.Rows {
		if !f.Origin.OnTheGround() && !math.IsNaN(s.ground) {
			break
		}
		if profile.LnP[0]-profile.LnP[k] > thin {
			break // no height near the ground
		}
		if s.height != nil && usable(s.height, i) {
			s.ground = s.height.Values[i]
			break
		}
	}
	s.readAir(f, profile)
	s.readWind(f, profile)
	return s
}

func (s *source) readAir(f *sounding.Final, profile *levels.Profile) {
	c := &s.air
	pressure, temperature, rh, height := f.Get(sounding.Pressure), f.Get(sounding.Temperature), f.Get(sounding.Humidity), s.height
	if temperature == nil {
		s.noT = "the flight has no temperature"
		s.noH = s.noT
		return
	}
	n := profile.Len()
	room := make([]float64, 14*n)
	var x [14][]float64
	for i := range x {
		x[i] = room[i*n : (i+1)*n : (i+1)*n]
	}
	status := make([]uint8, n)
	doubt := make([]int32, 2*(n+1))
	c.doubtT, c.doubtH = doubt[:n+1], doubt[n+1:]
	m := 0
	for k, i := range profile.Rows {
		if !usable(temperature, i) || !(temperature.Values[i] > 0) {
			continue
		}
		x[0][m], x[1][m], x[2][m], x[3][m] = profile.Time[k], profile.LnP[k], pressure.Values[i], temperature.Values[i]
		x[4][m], x[5][m] = math.NaN(), math.NaN()
		x[6][m], x[7][m] = part(temperature.Independent, i), part(temperature.Common, i)
		x[10][m], x[11][m] = part(pressure.Independent, i), part(pressure.Common, i)
		if rh != nil && usable(rh, i) && rh.Values[i] >= 0 && 0.01*rh.Values[i]*s.sensor.At(x[3][m]) < mostVapour*x[2][m] {
			x[4][m], x[8][m], x[9][m], status[m] = rh.Values[i], part(rh.Independent, i), part(rh.Common, i), known
		}
		c.doubtT[m+1], c.doubtH[m+1] = c.doubtT[m]+questionable(temperature, i), c.doubtH[m]
		if status[m] == known {
			c.doubtH[m+1] += questionable(rh, i)
		}
		if height != nil && usable(height, i) {
			x[5][m], x[12][m], x[13][m] = height.Values[i], part(height.Independent, i), part(height.Common, i)
		}
		m++
	}
	for i, to := range []*[]float64{&c.time, &c.lnp, &c.p, &c.t, &c.rh, &c.z, &c.ti, &c.tc, &c.hi, &c.hc, &c.pi, &c.pc, &c.zi, &c.zc} {
		*to = x[i][:m]
	}
	c.status = status[:m]
	if c.len() == 0 {
		s.noT = s.noSample(f, "temperature")
		s.noH = s.noT
		return
	}
	s.uT = temperature.Independent != nil || temperature.Common != nil
	s.uH = rh != nil && (rh.Independent != nil || rh.Common != nil)
	s.exactP = pressure.Independent == nil && pressure.Common == nil
	first := math.Exp(profile.LnP[0])
	if p0 := f.Origin.GroundPressure; !f.Origin.OnTheGround() && p0.Set() {
		first = math.Max(first, p0.Value()) // what lies between the release point and the lowest level is missing
	}
	s.bottom = first
	s.surfaceRecord(f)
	c.bridgeHeights()
	if c.p[0] < first-s.set.GapHPa {
		s.gapT = append(s.gapT, gap{first, c.p[0]})
	}
	for k := 1; k < c.len(); k++ {
		if s.isGap(k-1, k) {
			s.gapT = append(s.gapT, gap{c.p[k-1], c.p[k]})
		}
	}
	s.humidityStatus(rh != nil)
}

func usable(s *sounding.Series, i int) bool {
	if s.Flags != nil {
		if f := s.Flags[i]; f == quality.Bad || f == quality.Missing {
			return false
		}
	}
	return !math.IsNaN(s.Values[i]) && !math.IsInf(s.Values[i], 0)
}

// questionable is 1 where sample i is, 0 where it is not.
func questionable(s *sounding.Series, i int) int32 {
	if s.Flags != nil && s.Flags[i] == quality.Questionable {
		return 1
	}
	return 0
}

// thin is a layer in ln p (about 80 m) that is no gap however long the balloon took
// through it: it floated or sank meanwhile, and only the first passage is read.
const thin = 0.01

func (s *source) isGap(a, b int) bool {
	c := &s.air
	return math.Abs(c.time[b]-c.time[a]) > s.set.GapS && c.lnp[a]-c.lnp[b] > thin || c.p[a]-c.p[b] >= s.set.GapHPa
}

// surfaceRecord puts the launch record's surface observation in place of the first
// sample, where the settings ask for it and it is complete.
func (s *source) surfaceRecord(f *sounding.Final) {
	if s.set.Surface != "record" || !f.Origin.OnTheGround() {
		return
	}
	const kept = "the surface parcel is the first sample of the flight: the launch record gives no complete surface observation"
	if f.Record == nil {
		s.notes = append(s.notes, kept)
		return
	}
	o := &f.Record.Surface
	rh := o.Humidity.Value()
	if !o.Humidity.Set() && o.DewPoint.Set() {
		rh = s.house.Formula().RelativeFromDewPoint(o.DewPoint.Value(), o.Temperature.Value())
	}
	if !o.Temperature.Set() || !(rh >= 0) {
		s.notes = append(s.notes, kept)
		return
	}
	c := &s.air
	c.t[0], c.rh[0], c.status[0] = o.Temperature.Value(), rh, known
	s.notes = append(s.notes, "temperature and humidity of the lowest level are the surface observation of the launch record, with the uncertainty of the first sample")
}

// bridgeHeights fills missing heights linearly in ln p between those there are.
func (c *column) bridgeHeights() {
	last := -1
	for k := range c.z {
		if math.IsNaN(c.z[k]) {
			continue
		}
		for j := last + 1; last >= 0 && j < k; j++ {
			w := (c.lnp[last] - c.lnp[j]) / (c.lnp[last] - c.lnp[k])
			c.z[j], c.zi[j], c.zc[j] = c.z[last]+w*(c.z[k]-c.z[last]), c.zi[last], c.zc[last]
		}
		last = k
	}
}

// dryEffect is by how many K saturated air at t and p is warmer, virtually, than dry.
func (s *source) dryEffect(t, p float64) float64 {
	return humidity.VirtualTemperature(t, s.house.At(t), p) - t
}

// humidityStatus decides what stands for humidity where it is missing: nothing in short
// breaks (levels are bridged), dry air where it is so cold that it cannot matter, a gap
// elsewhere.
func (s *source) humidityStatus(has bool) {
	c := &s.air
	n := c.len()
	if !has {
		s.noH = "the flight has no humidity"
	}
	last, dryFrom, dryMost := -1, math.NaN(), 0.0
	for k := 0; k <= n; k++ {
		if k < n && c.status[k] == absent {
			continue
		}
		// Levels last+1 … k-1 hold no humidity.
		bridged := last >= 0 && k < n && !s.isGap(last, k)
		for j := last + 1; j < k && !bridged; j++ {
			if effect := s.dryEffect(c.t[j], c.p[j]); effect < s.set.DryAboveVirtual {
				c.rh[j], c.status[j] = 0, assumed
				if math.IsNaN(dryFrom) {
					dryFrom = c.p[j]
				}
				dryMost = math.Max(dryMost, effect)
			}
		}
		last = k
	}
	if !math.IsNaN(dryFrom) && has {
		s.notes = append(s.notes, fmt.Sprintf("humidity is not known in places above %s: the air is taken as dry there, which changes its virtual temperature by at most %.2f K", hpa(dryFrom), dryMost))
	}
	// Gaps between levels whose humidity is known or does not matter.
	last = -1
	for k := 0; k < n; k++ {
		if c.status[k] == absent {
			continue
		}
		switch {
		case last < 0 && c.p[0]-c.p[k] >= s.set.GapHPa:
			s.gapH = append(s.gapH, gap{c.p[0], c.p[k]})
		case last >= 0 && s.isGap(last, k) && k > last+1:
			s.gapH = append(s.gapH, gap{c.p[last], c.p[k]})
		}
		last = k
	}
	if last < 0 {
		if s.noH == "" {
			s.noH = fmt.Sprintf("no sample of the %s has a usable humidity", s.kind)
		}
		return
	}
	if last < n-1 && c.p[last]-c.p[n-1] >= s.set.GapHPa {
		s.gapH = append(s.gapH, gap{c.p[last], c.p[n-1]})
	}
	s.measuredWater()
}

// measuredWater works out how much of the column was measured.
func (s *source) measuredWater() {
	c := &s.air
	w := &s.water
	top300, top500 := math.Min(300, s.bottom), math.Min(500, s.bottom)
	var got300, got500 float64
	last := -1
	w.top = math.NaN()
	for k := range c.status {
		if c.status[k] != known || c.p[k] < s.set.WaterTop {
			continue
		}
		if last >= 0 && !s.isGap(last, k) {
			got300 += math.Max(0, c.p[last]-math.Max(c.p[k], 300))
			got500 += math.Max(0, c.p[last]-math.Max(c.p[k], 500))
		}
		last = k
		w.top = c.p[k]
	}
	w.measured300, w.missing500 = math.NaN(), math.NaN()
	if d := s.bottom - top300; d > 0 {
		w.measured300 = got300 / d
	}
	if d := s.bottom - top500; d > 0 {
		w.missing500 = 1 - got500/d
	}
}

func (s *source) readWind(f *sounding.Final, profile *levels.Profile) {
	w := &s.wind
	u, v, height := f.Get(sounding.WindU), f.Get(sounding.WindV), s.height
	switch {
	case u == nil || v == nil:
		w.reason = "the flight has no wind"
		return
	case height == nil:
		w.reason = "the flight has no height"
		return
	}
	ground := s.ground
	if math.IsNaN(ground) {
		w.reason = "the height of the release point is not known"
		return
	}
	n := profile.Len()
	room := make([]float64, 10*n)
	w.doubt = make([]int32, n+1)
	var x [10][]float64
	for i := range x {
		x[i] = room[i*n : (i+1)*n : (i+1)*n]
	}
	m := 0
	for k, i := range profile.Rows {
		if !usable(u, i) || !usable(v, i) || !usable(height, i) {
			continue
		}
		z := height.Values[i] - ground
		if m > 0 && z <= x[2][m-1] || z < 0 {
			continue
		}
		x[0][m], x[1][m], x[2][m], x[3][m], x[4][m] = profile.Time[k], profile.LnP[k], z, u.Values[i], v.Values[i]
		x[5][m], x[6][m], x[7][m], x[8][m] = part(u.Independent, i), part(u.Common, i), part(v.Independent, i), part(v.Common, i)
		x[9][m] = part(height.Independent, i)
		w.doubt[m+1] = w.doubt[m] + max(questionable(u, i), questionable(v, i))
		m++
	}
	for i, to := range []*[]float64{&w.time, &w.lnp, &w.z, &w.u, &w.v, &w.ui, &w.uc, &w.vi, &w.vc, &w.zi} {
		*to = x[i][:m]
	}
	if len(w.z) == 0 {
		w.reason = s.noSample(f, "wind")
		return
	}
	s.uW = u.Independent != nil || u.Common != nil
	// The lowest wind stands for the ground if it is near it.
	const near = 100 // m
	if w.z[0] > near {
		s.gapW = append(s.gapW, gap{0, w.z[0]})
	}
	w.z[0] = 0
	for k := 1; k < len(w.z); k++ {
		if w.z[k]-w.z[k-1] >= s.set.GapM || math.Abs(w.time[k]-w.time[k-1]) > s.set.GapS && w.lnp[k-1]-w.lnp[k] > thin {
			s.gapW = append(s.gapW, gap{w.z[k-1], w.z[k]})
		}
	}
}

// across returns the first gap that overlaps the layer between the pressures bottom and
// top, hPa.
func across(gaps []gap, bottom, top float64) (gap, bool) {
	for _, g := range gaps {
		if g.top < bottom && g.bottom > top {
			return g, true
		}
	}
	return gap{}, false
}

// missing says in words what of temperature and humidity is missing between the
// pressures bottom and top, "" where nothing is.
func (s *source) missing(bottom, top float64, humid bool) string {
	if g, ok := across(s.gapT, bottom, top); ok {
		return "temperature is missing " + g.text()
	}
	if humid {
		if s.noH != "" {
			return s.noH
		}
		if g, ok := across(s.gapH, bottom, top); ok {
			return "humidity is missing " + g.text()
		}
	}
	return ""
}

// missingWind is the same of wind up to height top, m above ground.
func (s *source) missingWind(top float64) string {
	w := &s.wind
	switch {
	case w.reason != "":
		return w.reason
	case w.z[len(w.z)-1] < top:
		return fmt.Sprintf("wind ends %.0f m above the release point", w.z[len(w.z)-1])
	}
	for _, g := range s.gapW {
		if g.bottom < top {
			return fmt.Sprintf("wind is missing from %.0f to %.0f m above the release point", g.bottom, g.top)
		}
	}
	return ""
}

// doubtful says in words how much of what lies between the pressures bottom and top is
// questionable, "" where nothing is.
func (s *source) doubtful(bottom, top float64, humid bool) string {
	c := &s.air
	if s.noT != "" || math.IsNaN(top) {
		return ""
	}
	a, b := searchFalling(c.lnp, math.Log(bottom)), searchFalling(c.lnp, math.Log(top))
	if b > a && c.p[b] < top {
		b-- // the level above the layer
	}
	total := float64(b + 1 - a)
	var list []string
	if n := c.doubtT[b+1] - c.doubtT[a]; n > 0 {
		list = append(list, fmt.Sprintf("%.0f %% of the temperatures", math.Ceil(100*float64(n)/total)))
	}
	if n := c.doubtH[b+1] - c.doubtH[a]; humid && n > 0 {
		list = append(list, fmt.Sprintf("%.0f %% of the humidities", math.Ceil(100*float64(n)/total)))
	}
	if len(list) == 0 {
		return ""
	}
	return strings.Join(list, " and ") + " between " + hpa(bottom) + " and " + hpa(top) + " are questionable"
}

// doubtfulWind is the same of wind up to height top.
func (s *source) doubtfulWind(top float64) string {
	w := &s.wind
	if w.reason != "" {
		return ""
	}
	k := 0
	for k < len(w.z) && w.z[k] <= top {
		k++
	}
	if n := w.doubt[k]; n > 0 {
		return fmt.Sprintf("%.0f %% of the winds up to %.0f m are questionable", math.Ceil(100*float64(n)/float64(k)), top)
	}
	return ""
}

// layers returns the means of c over layers of equal depth in ln p, with the first level
// itself below them: the independent parts fall with the square root of the number of
// levels in a layer, the common parts do not.
func (c *column) layers(depth float64) column {
	out := column{}
	n := c.len()
	if n == 0 {
		return out
	}
	cells := int((c.lnp[0]-c.lnp[n-1])/depth) + 3
	for _, x := range []*[]float64{&out.time, &out.lnp, &out.p, &out.t, &out.rh, &out.z, &out.ti, &out.tc, &out.hi, &out.hc, &out.pi, &out.pc, &out.zi, &out.zc, &out.gt, &out.gh} {
		*x = make([]float64, 0, min(cells, n+1))
	}
	add := func(from, to int) {
		var m, lnp, t, z, time, ti, tc, pi, pc, zi, zc, mh, h, hi, hc float64
		st := absent
		for k := from; k < to; k++ {
			m++
			time, lnp, t, z = time+c.time[k], lnp+c.lnp[k], t+c.t[k], z+c.z[k]
			ti, tc, pi, pc, zi, zc = ti+c.ti[k]*c.ti[k], tc+c.tc[k], pi+c.pi[k]*c.pi[k], pc+c.pc[k], zi+c.zi[k]*c.zi[k], zc+c.zc[k]
			if c.status[k] == absent {
				continue
			}
			st = max(st, c.status[k])
			mh++
			h, hi, hc = h+c.rh[k], hi+c.hi[k]*c.hi[k], hc+c.hc[k]
		}
		out.time, out.lnp, out.p = append(out.time, time/m), append(out.lnp, lnp/m), append(out.p, math.Exp(lnp/m))
		out.t, out.z = append(out.t, t/m), append(out.z, z/m)
		out.ti, out.tc = append(out.ti, math.Sqrt(ti)/m), append(out.tc, tc/m)
		out.pi, out.pc = append(out.pi, math.Sqrt(pi)/m), append(out.pc, pc/m)
		out.zi, out.zc = append(out.zi, math.Sqrt(zi)/m), append(out.zc, zc/m)
		out.rh, out.hi, out.hc, out.status = append(out.rh, h/mh), append(out.hi, math.Sqrt(hi)/mh), append(out.hc, hc/mh), append(out.status, st)
	}
	add(0, 1)
	from, cell := 0, 0
	for k := 1; k <= n; k++ {
		index := -1
		if k < n {
			index = int((c.lnp[0] - c.lnp[k]) / depth)
		}
		if index == cell {
			continue
		}
		if from > 0 || k > 1 { // the first level alone already stands
			add(from, k)
		}
		from, cell = k, index
	}
	m := out.len()
	out.gt, out.gh = make([]float64, m), make([]float64, m)
	for k := range out.lnp {
		a, b := max(0, k-1), min(m-1, k+1)
		if a == b {
			continue
		}
		out.gt[k] = (out.t[b] - out.t[a]) / (out.lnp[b] - out.lnp[a])
		if g := (out.rh[b] - out.rh[a]) / (out.lnp[b] - out.lnp[a]); !math.IsNaN(g) {
			out.gh[k] = g
		}
	}
	return out
}

// layers is the same of the wind.
func (w *windColumn) layers(depth float64) windColumn {
	out := windColumn{reason: w.reason}
	n := len(w.z)
	if n == 0 {
		return out
	}
	add := func(from, to int) {
		var m, z, u, v, lnp, time, ui, uc, vi, vc, zi float64
		for k := from; k < to; k++ {
			m++
			z, u, v, lnp, time = z+w.z[k], u+w.u[k], v+w.v[k], lnp+w.lnp[k], time+w.time[k]
			ui, vi, uc, vc, zi = ui+w.ui[k]*w.ui[k], vi+w.vi[k]*w.vi[k], uc+w.uc[k], vc+w.vc[k], zi+w.zi[k]*w.zi[k]
		}
		out.z, out.u, out.v, out.lnp, out.time = append(out.z, z/m), append(out.u, u/m), append(out.v, v/m), append(out.lnp, lnp/m), append(out.time, time/m)
		out.ui, out.vi, out.uc, out.vc, out.zi = append(out.ui, math.Sqrt(ui)/m), append(out.vi, math.Sqrt(vi)/m), append(out.uc, uc/m), append(out.vc, vc/m), append(out.zi, math.Sqrt(zi)/m)
	}
	add(0, 1)
	from, cell := 0, 0
	for k := 1; k <= n; k++ {
		index := -1
		if k < n {
			index = int((w.lnp[0] - w.lnp[k]) / depth)
		}
		if index == cell {
			continue
		}
		if from > 0 || k > 1 {
			add(from, k)
		}
		from, cell = k, index
	}
	return out
}

const kelvin = constants.ZeroCelsius

// mostVapour is the largest share of the pressure that is taken for vapour pressure: the
// moistest air of the atmosphere has 0.05; more is a pair of wrong numbers.
const mostVapour = 0.2
