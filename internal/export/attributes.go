package export

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"leadline/internal/netcdf"
	"leadline/internal/sounding"
)

// global adds the global attributes: CF, ACDD and leadline's own. Only what is known is
// written.
func (d *ncFile) global(what string) {
	f := d.flight.Final
	var list netcdf.Attributes
	put := func(name, value string) {
		if value != "" {
			list = append(list, text(name, value))
		}
	}
	number := func(name string, value float64) {
		if !math.IsNaN(value) && !math.IsInf(value, 0) {
			list = append(list, netcdf.Attribute{Name: name, Value: []float64{value}})
		}
	}
	site := ""
	if f.Record != nil {
		site = f.Record.Site.Name
	}
	title := what
	if site != "" {
		title += ", " + site
	}
	if f.Events.Release.Found {
		title += ", released " + f.Events.Release.UTC.UTC().Format("2006-01-02 15:04:05") + " UTC"
	}
	put("Conventions", Conventions)
	put("title", title)
	put("summary", strings.Join(f.Summary, " "))
	put("keywords", d.keywords())
	put("id", d.flight.name())
	history := "written by leadline with method set " + f.MethodSet
	if !d.flight.Created.IsZero() {
		history = instant(d.flight.Created) + ": " + history
	}
	put("history", history)
	put("source", "radiosonde")
	put("processing_level", "checked, corrected, checked again; flags kept beside every value")
	put("comment", "values are float64 in leadline's units, unchanged; missing values are _FillValue; a bad value is kept with its flag; "+
		"rows are in the order of the flight and include those before release and after burst (see phase); "+
		"where the position is lost it is missing and the other values are kept")
	put("references", strings.Join(d.flight.formulas(), "; "))
	put("standard_name_vocabulary", "CF Standard Name Table, version 83")
	if !d.flight.Created.IsZero() {
		put("date_created", instant(d.flight.Created))
	}
	d.extent(number, put)

	put("method_set", f.MethodSet)
	put("formula_set", strings.Join(d.flight.formulas(), "; "))
	if f.Sheet != nil {
		put("instrument_sheet", f.Sheet.Name)
		put("instrument", f.Sheet.Title)
	}
	put("verdict", f.Verdict.Word)
	put("verdict_line", f.Verdict.Line)
	d.signOff(&f.SignOff, put)
	put("flight_end", f.Events.End)
	for _, e := range []struct {
		name string
		e    *sounding.Event
	}{{"release", &f.Events.Release}, {"burst", &f.Events.Burst}, {"top", &f.Events.Top}, {"landing", &f.Events.Landing}} {
		if e.e.Found {
			put(e.name+"_utc", instant(e.e.UTC))
			number(e.name+"_u_s", e.e.Uncertainty.Value())
			list = append(list, netcdf.Attribute{Name: e.name + "_source_line", Value: []int32{int32(e.e.Line)}})
			put(e.name+"_method", e.e.Method)
		}
	}
	if r := f.Record; r != nil {
		put("site_name", r.Site.Name)
		put("site_wmo_number", r.Site.WMONumber)
		put("site_wigos", r.Site.WIGOS)
		number("site_latitude_deg", r.Site.Latitude.Value())
		number("site_longitude_deg", r.Site.Longitude.Value())
		number("site_height_m_msl", r.Site.Height.Value())
		put("radiosonde_serial", r.Radiosonde.Serial)
	}
	for i, s := range f.Sources {
		prefix := fmt.Sprintf("source_%d_", i+1)
		put(prefix+"name", s.Name)
		put(prefix+"sha256", s.SHA256)
		put(prefix+"recipe", s.Recipe)
	}
	for _, a := range d.flight.Attributes {
		replaced := false
		for i := range list {
			if list[i].Name == a.Name {
				list[i].Value, replaced = a.Text, true
			}
		}
		if !replaced {
			put(a.Name, a.Text)
		}
	}
	d.Attributes = append(d.Attributes, list...)
}

// signOff says whether somebody answers for the flight, who, since when and for what.
func (d *ncFile) signOff(s *sounding.SignOff, put func(string, string)) {
	state := s.State
	if s.Signature == nil {
		state = "not signed off"
	}
	put("sign_off", state)
	if g := s.Signature; g != nil {
		put("signed_by", g.Who)
		put("signed_utc", instant(g.When))
		put("signed_note", g.Note)
		put("signed_method_set", g.MethodSet)
		put("signed_digest_sha256", g.Digest)
		put("signed_verdict", g.Verdict)
		put("signed_open_findings", strconv.Itoa(g.Open))
		put("signed_differs", strings.Join(s.Differs, "; "))
	}
	if r := s.Reopened; r != nil {
		put("reopened_by", r.Who)
		put("reopened_utc", instant(r.When))
		put("reopened_reason", r.Reason)
	}
}

// keywords lists what the file holds in words of the standard names.
func (d *ncFile) keywords() string {
	words := []string{"radiosonde", "upper air"}
	seen := map[string]bool{}
	for _, s := range series(&d.flight.Final.Columns) {
		if n := strings.ReplaceAll(s.Variable.Info().StandardName, "_", " "); n != "" && s.Variable.Info().Profile && !seen[n] {
			seen[n] = true
			words = append(words, n)
		}
	}
	return strings.Join(words, ", ")
}

// extent adds what ACDD says about coverage in space and time.
func (d *ncFile) extent(number func(string, float64), put func(string, string)) {
	f := d.flight.Final
	span := func(v sounding.Variable) (lo, hi float64) {
		lo, hi = math.NaN(), math.NaN()
		for _, x := range f.Usable(v) {
			if !(x >= lo) && x == x {
				lo = x
			}
			if !(x <= hi) && x == x {
				hi = x
			}
		}
		return lo, hi
	}
	for _, x := range []struct {
		name string
		v    sounding.Variable
	}{{"geospatial_lat", sounding.Latitude}, {"geospatial_lon", sounding.Longitude}, {"geospatial_vertical", sounding.HeightMSL}} {
		lo, hi := span(x.v)
		if math.IsNaN(lo) {
			continue
		}
		number(x.name+"_min", lo)
		number(x.name+"_max", hi)
		put(x.name+"_units", x.v.Info().Unit)
		if x.v == sounding.HeightMSL {
			put("geospatial_vertical_positive", "up")
		}
	}
	if n := f.Len(); n > 0 {
		first, last := f.UTC(f.Time[0]), f.UTC(f.Time[n-1])
		put("time_coverage_start", instant(first))
		put("time_coverage_end", instant(last))
		put("time_coverage_duration", period(last.Sub(first)))
	}
}

// period returns a duration as ISO 8601.
func period(d time.Duration) string {
	return "PT" + string(appendDecimal(nil, d.Seconds(), 3)) + "S"
}
