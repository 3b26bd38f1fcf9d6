package message

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"leadline/internal/bufr"
	"leadline/internal/ingest"
	"leadline/internal/levels"
	"leadline/internal/sounding"
)

// tableVersion is the master table version written: the first that has 3 09 056 and
// 3 09 057, so that decoders with older tables than the newest can read every template.
const tableVersion = 31

// largeBulletin is a common limit of binary bulletins in exchange, octets (from memory
// of the WMO Manual on the Global Telecommunication System).
const largeBulletin = 500_000

// Encode writes a final flight as one message. set is what levels.Find gave for it; the
// descent templates apply the level rules to the descent instead. An error says why the
// flight makes no report; what cannot be coded is missing and named in the findings.
func Encode(f *sounding.Final, set levels.Set, o Options) (Encoded, error) {
	if err := o.Validate(); err != nil {
		return Encoded{}, err
	}
	switch o.Template {
	case TEMP:
		return encodeTEMP(f, set, &o)
	case PILOT:
		return encodePILOT(f, set, &o)
	}
	var n notes
	w, err := chosenLevels(f, set, &o, &n)
	if err != nil {
		return Encoded{}, err
	}
	out := Encoded{Nominal: nominalHour(f, w.start, &n), Levels: len(w.rows)}
	record := f.Record
	if record == nil {
		record = sounding.NewLaunchRecord()
	}
	centre := o.Centre
	if centre == 0 {
		centre = 65535 // missing
	}
	h := bufr.Header{Edition: 4, Centre: centre, SubCentre: o.SubCentre, Update: o.Correction, Category: 2, SubCategory: subCategory(record, o.Template), LocalSubCategory: 255,
		TableVersion: tableVersion, Year: out.Nominal.Year(), Month: int(out.Nominal.Month()), Day: out.Nominal.Day(), Hour: out.Nominal.Hour(), Minute: out.Nominal.Minute(),
		Observed: true, Descriptors: []bufr.Descriptor{o.Template.descriptor()}}
	e, err := bufr.NewEncoder(h, nil)
	if err != nil {
		return Encoded{}, err
	}
	x := &filler{e: e, n: &n, head: heads(f, record, w, &o, &n), at: map[bufr.Descriptor]int{}}
	for field := e.Next(); field != nil; field = e.Next() {
		switch field.Descriptor {
		case bufr.FXY(0, 31, 2):
			x.levels(w)
		case bufr.FXY(0, 31, 1):
			out.MaximumWinds = x.shear(w)
		default:
			x.single(field)
		}
	}
	x.missingFigures()
	e.EndSubset()
	b, err := e.Bytes()
	if err != nil {
		return Encoded{}, fmt.Errorf("the message cannot be written: %w", err)
	}
	if len(b) > largeBulletin {
		n.say(sounding.Note, "", "the message has %d octets; many exchanges take no more than %d: a longer spacing of levels makes it shorter", len(b), largeBulletin)
	}
	if out.Bytes, out.FileName, err = wrapped(b, f, &o, out.Nominal, "bufr"); err != nil {
		return Encoded{}, err
	}
	out.Findings = n.list
	sounding.NumberIDs(out.Findings)
	return out, nil
}

// subCategory returns the international data sub-category of common code table C-13.
func subCategory(r *sounding.LaunchRecord, t Template) int {
	kind := 0
	switch r.Site.Kind {
	case "ship":
		kind = 1
	case "mobile":
		kind = 2
	}
	switch t {
	case BUFR309053:
		return 7
	case BUFR309056:
		return 14 + kind
	}
	return 4 + kind
}

// item is a value of the head of a report: a number, a text, or missing.
type item struct {
	number float64
	text   string
	field  string // of the launch record, for findings
}

func number(v float64, field string) item { return item{number: v, field: field} }
func text(s, field string) item           { return item{number: math.NaN(), text: s, field: field} }

// figure is a code figure or count; below 0 it is missing.
func figure(v int) item {
	if v < 0 {
		return item{number: math.NaN()}
	}
	return item{number: float64(v)}
}

// filler gives the encoder its values in the order of the template.
type filler struct {
	e    *bufr.Encoder
	n    *notes
	head map[bufr.Descriptor][]item
	at   map[bufr.Descriptor]int // occurrences so far
	none []string                // code figures that neither record nor sheet gives
}

// single writes the value of one place of the head.
func (x *filler) single(f *bufr.Field) {
	d := f.Descriptor
	k := x.at[d]
	x.at[d]++
	list := x.head[d]
	if k >= len(list) {
		if f.Kind == bufr.Code && d.X() == 2 && len(list) == 0 {
			x.none = append(x.none, fmt.Sprintf("%s (%s)", d, strings.ToLower(f.Name)))
		}
		x.e.Missing(d)
		return
	}
	v := list[k]
	if f.Kind == bufr.Text {
		x.text(f, v)
		return
	}
	if raw, can := f.Missing(); math.IsNaN(v.number) || can && f.Kind != bufr.Number && v.number == float64(raw) {
		x.e.Missing(d)
		return
	}
	if !fits(f, v.number) {
		least, greatest := f.Limits()
		x.n.say(sounding.Note, v.field, "%s is %v %s; the message holds %v to %v, so it is missing there", strings.ToLower(f.Name), v.number, f.Unit, least, greatest)
		x.e.Missing(d)
		return
	}
	x.e.Number(d, v.number)
}

func (x *filler) text(f *bufr.Field, v item) {
	s := strings.TrimSpace(v.text)
	printable := true
	for _, c := range s {
		printable = printable && c >= ' ' && c <= '~'
	}
	if len(s) > f.Width/8 || !printable {
		x.n.say(sounding.Note, v.field, "%s %q has more than %d characters or some that the message cannot hold, so it is missing there", strings.ToLower(f.Name), s, f.Width/8)
		s = ""
	}
	x.e.Text(f.Descriptor, s)
}

// missingFigures says in one finding which instrument figures nobody gave.
func (x *filler) missingFigures() {
	if len(x.none) > 0 {
		x.n.say(sounding.Note, "radiosonde.sheet", "the instrument sheet gives no code figure for %s: missing in the message", strings.Join(x.none, ", "))
	}
}

// fits tells whether a field can hold a value after rounding.
func fits(f *bufr.Field, v float64) bool {
	least, greatest := f.Limits()
	half := 0.4999999 * math.Pow(10, -float64(f.Scale))
	return v >= least-half && v <= greatest+half
}

// fitted makes values that the field cannot hold missing, and says so.
func (x *filler) fitted(f *bufr.Field, values []float64) []float64 {
	count, first := 0, 0.0
	for i, v := range values {
		if !math.IsNaN(v) && !fits(f, v) {
			if count == 0 {
				first = v
			}
			count++
			values[i] = math.NaN()
		}
	}
	if count > 0 {
		least, greatest := f.Limits()
		g := x.n.say(sounding.Questionable, "", "%s of %d of %d levels does not fit the message, which holds %v to %v %s (first: %v): missing there", strings.ToLower(f.Name), count, len(values), least, greatest, f.Unit, first)
		g.Measured, g.Unit = sounding.Number(count), "levels"
	}
	return values
}

// field returns the effective field of d in the loop that comes n-th.
func (x *filler) field(d bufr.Descriptor, nth int) *bufr.Field {
	fields := x.e.Program().Fields()
	for i := range fields {
		if fields[i].Descriptor == d {
			if nth == 0 {
				return &fields[i]
			}
			nth--
		}
	}
	return nil
}

// elements of the level loops, in the order in which any template has them.
var levelElements = []struct {
	d      bufr.Descriptor
	c      column
	factor float64
}{
	{bufr.FXY(0, 4, 86), cTime, 1}, {bufr.FXY(0, 8, 42), cBits, 1}, {bufr.FXY(0, 7, 4), cPressure, 100}, {bufr.FXY(0, 10, 9), cHeight, 1}, {bufr.FXY(0, 7, 9), cHeight, 1},
	{bufr.FXY(0, 5, 15), cNorth, 1}, {bufr.FXY(0, 6, 15), cEast, 1}, {bufr.FXY(0, 12, 101), cTemperature, 1}, {bufr.FXY(0, 13, 9), cHumidity, 1}, {bufr.FXY(0, 12, 103), cDewPoint, 1},
	{bufr.FXY(0, 11, 1), cDirection, 1}, {bufr.FXY(0, 11, 2), cSpeed, 1},
}

// levels writes the level loop.
func (x *filler) levels(w *writtenLevels) {
	var columns []bufr.Column
	for _, el := range levelElements {
		// The surface observation of 3 09 055 has some of the elements once before the loop.
		nth := 0
		if x.at[el.d] > 0 {
			nth = x.at[el.d]
		}
		f := x.field(el.d, nth)
		if f == nil {
			continue
		}
		columns = append(columns, bufr.Column{Descriptor: el.d, Values: x.fitted(f, w.col(el.c, el.factor))})
		x.at[el.d]++
	}
	x.e.Table(len(w.rows), columns...)
}

// shear writes the loop of maximum winds and returns how many there are.
func (x *filler) shear(w *writtenLevels) int {
	peaks := &writtenLevels{}
	for _, r := range w.rows {
		if int(r[cBits])&maximumWindBit != 0 && len(peaks.rows) < 254 {
			peaks.rows = append(peaks.rows, r)
		}
	}
	list := []struct {
		d      bufr.Descriptor
		c      column
		factor float64
	}{{bufr.FXY(0, 4, 86), cTime, 1}, {bufr.FXY(0, 8, 42), cBits, 1}, {bufr.FXY(0, 7, 4), cPressure, 100}, {bufr.FXY(0, 5, 15), cNorth, 1}, {bufr.FXY(0, 6, 15), cEast, 1},
		{bufr.FXY(0, 11, 61), cBelow, 1}, {bufr.FXY(0, 11, 62), cAbove, 1}}
	var columns []bufr.Column
	for _, el := range list {
		f := x.field(el.d, x.at[el.d])
		if f == nil {
			continue
		}
		columns = append(columns, bufr.Column{Descriptor: el.d, Values: x.fitted(f, peaks.col(el.c, el.factor))})
		x.at[el.d]++
	}
	x.e.Table(len(peaks.rows), columns...)
	return len(peaks.rows)
}

// heads gathers what stands before the levels: identification, instrument, launch,
// place, surface, cloud.
func heads(f *sounding.Final, r *sounding.LaunchRecord, w *writtenLevels, o *Options, n *notes) map[bufr.Descriptor][]item {
	h := map[bufr.Descriptor][]item{}
	put := func(x, y int, list ...item) { h[bufr.FXY(0, x, y)] = list }
	if f.Sheet != nil {
		for key, figureOf := range f.Sheet.Codes {
			if d, err := bufr.ParseDescriptor(key); err == nil {
				h[d] = []item{figure(figureOf)}
			}
		}
	}
	identify(put, r, o, n)
	s := r.Radiosonde
	put(1, 81, text(s.Serial, "radiosonde.serial"))
	put(1, 82, number(orMissing(o.Ascension), ""))
	put(1, 83, number(orMissing(o.Release), ""))
	put(1, 95, text(r.Operator, "operator"))
	switch r.Balloon.Parachute {
	case "yes":
		put(2, 16, figure(4)) // bit 3 of 5: parachute
	case "no":
		put(2, 16, figure(0))
	}
	put(2, 67, number(s.Frequency.Value()*1e6, "radiosonde.frequency_mhz"))
	put(2, 82, number(r.Balloon.Mass.Value(), "balloon.mass_kg"))
	switch r.Balloon.Gas {
	case "hydrogen":
		put(2, 84, figure(0))
	case "helium":
		put(2, 84, figure(1))
	}
	put(2, 85, number(r.Balloon.GasAmount.Value(), "balloon.gas_amount_kg"))
	put(2, 86, number(r.Balloon.String.Value(), "balloon.string_m"))
	put(25, 61, text(o.Software, ""))
	if o.Upto == 0 {
		switch f.Events.End {
		case sounding.EndBurst:
			put(35, 35, figure(1))
		case sounding.EndFloat:
			put(35, 35, figure(3))
		}
	}
	put(8, 21, figure(18))
	for i, v := range []int{w.start.Year(), int(w.start.Month()), w.start.Day(), w.start.Hour(), w.start.Minute(), w.start.Second()} {
		put(4, 1+i, figure(v))
	}
	put(8, 91, figure(2)) // start of observation; its second place is missing
	put(5, 1, number(w.latitude, "site.latitude_deg"))
	put(6, 1, number(w.longitude, "site.longitude_deg"))
	if o.GroundHeight != nil {
		put(7, 30, number(*o.GroundHeight, ""))
	}
	put(7, 31, number(r.Site.Barometer.Value(), "site.barometer_height_m_msl"))
	put(7, 7, number(w.height, "site.height_m_msl"))
	putCloud(put, r.Surface.CloudCode)
	put(22, 43, number(r.Surface.SeaTemperature.Value(), "surface.sea_temperature_k"))
	if o.Template == BUFR309055 {
		u := r.Surface
		put(10, 4, number(u.Pressure.Value()*100, "surface.pressure_hpa"))
		above := item{number: r.Site.Thermometer.Value() - r.Site.Height.Value(), field: "site.thermometer_height_m_msl"}
		put(7, 32, above)
		put(12, 101, number(u.Temperature.Value(), "surface.temperature_k"))
		put(12, 103, number(u.DewPoint.Value(), "surface.dew_point_k"))
		put(13, 3, number(u.Humidity.Value(), "surface.humidity_pct"))
		direction, speed := codedWind(u.WindDirection.Value(), u.WindSpeed.Value())
		put(11, 1, number(direction, "surface.wind_direction_deg"))
		put(11, 2, number(speed, "surface.wind_speed_m_s"))
	}
	return h
}

func orMissing(n int) float64 {
	if n == 0 {
		return math.NaN()
	}
	return float64(n)
}

// identify fills station number, call sign and WIGOS identifier.
func identify(put func(x, y int, list ...item), r *sounding.LaunchRecord, o *Options, n *notes) {
	known := false
	if s := r.Site.WMONumber; s != "" {
		v, err := strconv.Atoi(s)
		if err != nil || len(s) != 5 {
			n.say(sounding.Questionable, "site.wmo_number", "WMO station number %q is not five figures: missing in the message", s)
		} else {
			put(1, 1, figure(v/1000))
			put(1, 2, figure(v%1000))
			known = true
		}
	}
	call := r.Site.CallSign
	if call != "" {
		known = true
		put(1, 11, text(call, "site.call_sign"))
		put(1, 6, text(call, "site.call_sign"))
	}
	if s := r.Site.WIGOS; s != "" {
		parts := strings.SplitN(s, "-", 4)
		var figures [3]int
		ok := len(parts) == 4
		for i := 0; ok && i < 3; i++ {
			v, err := strconv.Atoi(parts[i])
			figures[i], ok = v, err == nil && v >= 0 && v <= 65534
		}
		if !ok {
			n.say(sounding.Questionable, "site.wigos", "WIGOS station identifier %q is not of the form 0-20000-0-06601: missing in the message", s)
		} else {
			known = true
			put(1, 125, figure(figures[0]))
			put(1, 126, figure(figures[1]))
			put(1, 127, figure(figures[2]))
			put(1, 128, text(parts[3], "site.wigos"))
		}
	}
	if !known {
		n.say(sounding.Questionable, "site.wmo_number", "neither WMO number, call sign nor WIGOS identifier is given: nobody can tell where the message is from")
	}
}

// putCloud fills 3 02 049 from the group NhCLhCMCH of FM 35. Vertical significance as
// for surface reports (from memory of regulations B/C25): 7 low, 8 middle, 0 high or
// none, 5 sky obscured.
func putCloud(put func(x, y int, list ...item), code string) {
	if len(code) != 5 {
		return
	}
	digit := func(i int) int {
		if code[i] < '0' || code[i] > '9' {
			return -1
		}
		return int(code[i] - '0')
	}
	amount, low, middle, high := digit(0), digit(1), digit(3), digit(4)
	significance := -1
	switch {
	case amount == 9:
		significance = 5
	case low > 0:
		significance = 7
	case middle > 0:
		significance = 8
	case low == 0 && middle >= 0:
		significance = 0
	}
	put(8, 2, figure(significance))
	put(20, 11, figure(amount))
	put(20, 13, number(ingest.CloudBase(code[2]), "surface.cloud_code"))
	family := func(figureOf, tens, unseen int) item {
		if figureOf < 0 {
			return figure(unseen)
		}
		return figure(tens + figureOf)
	}
	put(20, 12, family(low, 30, 62), family(middle, 20, 61), family(high, 10, 60))
}
