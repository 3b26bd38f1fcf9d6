package prelaunch

import (
	"fmt"
	"time"

	"leadline/internal/gas"
	"leadline/internal/sounding"
)

// Begun judges a preparation that is not complete: slot, surface observation, ground check,
// airspace class and list, whatever of them is given. Fill and Drift of its sheet are nil
// where they cannot be planned. missing says what is wanted still, by the part of the work
// it belongs to ("slot", "place", "fill", "surface"), and holds the reason where something
// given cannot be used. With a complete preparation it is Prepare.
func Begun(in Inputs) (s *Sheet, missing []Remark) {
	whole, err := Prepare(in)
	if err == nil {
		return whole, nil
	}
	set, r, plan := in.Settings, in.Record.Clone(), in.Plan
	if set == nil {
		set = Default()
	}
	zone := in.Zone
	if zone == nil {
		zone = time.UTC
	}
	list := in.List
	if list == nil {
		list = DefaultList()
	}
	s = &Sheet{Site: r.Site.Name, Operator: r.Operator, Serial: r.Radiosonde.Serial, Zone: zone.String(), Record: r, Word: Look}
	s.Place, s.Height = Place{r.Site.Latitude.Or(0), r.Site.Longitude.Or(0)}, r.Site.Height.Or(0)
	want := func(about, format string, args ...any) {
		missing = append(missing, Remark{about, Warning, fmt.Sprintf(format, args...)})
	}
	if extras, err := plan.extras(); err != nil {
		want("slot", "%s", err)
	} else {
		for _, t := range extras {
			s.Extra = append(s.Extra, NewSlot(t, s.Place.Latitude, s.Place.Longitude, zone, set))
		}
	}
	var counted []Remark
	s.Stock, counted = CountDown(plan.Stock, in.Flown, r.Site.Name)
	s.Remarks = append(append(s.Remarks, counted...), JudgeStock(s.Stock, max(plan.Slot.Releases, 1))...)
	night := false
	release := r.Release.Declared
	nominal, slotErr := plan.nominal(r, zone)
	if slotErr != nil {
		want("slot", "%s", slotErr)
	} else {
		r.Release.Nominal = nominal
		s.Slot = NewSlot(nominal, s.Place.Latitude, s.Place.Longitude, zone, set)
		s.Remarks = append(s.Remarks, s.Slot.Remarks...)
		night = r.Site.Latitude.Set() && r.Site.Longitude.Set() && s.Slot.Sun < -0.833
		if release.IsZero() {
			release = s.Slot.Best
		} else {
			s.Remarks = append(s.Remarks, s.Slot.Judge(release))
		}
	}
	for _, need := range []struct {
		about, words string
		n            sounding.Number
	}{
		{"place", "latitude", r.Site.Latitude}, {"place", "longitude", r.Site.Longitude}, {"place", "height of the release point", r.Site.Height},
		{"fill", "balloon mass", r.Balloon.Mass}, {"surface", "surface pressure", r.Surface.Pressure}, {"surface", "surface temperature", r.Surface.Temperature},
	} {
		if !need.n.Set() {
			want(need.about, "%s is not given", need.words)
		}
	}
	kind, gasErr := gas.ParseKind(r.Balloon.Gas)
	if gasErr != nil {
		want("fill", "%s", gasErr)
	}
	packages, _, _, payloadErr := plan.payload(r)
	if payloadErr != nil {
		want("fill", "%s", payloadErr)
	}
	if plan.CompassWind != nil && !r.Surface.WindDirection.Set() {
		r.Surface.WindDirection = sounding.Number(TrueBearing(*plan.CompassWind, plan.Declination))
	}
	if r.Surface.Pressure.Set() || r.Surface.Temperature.Set() || r.Surface.Humidity.Set() || r.Surface.WindSpeed.Set() || !r.Surface.Time.IsZero() {
		s.Surface = JudgeSurface(&r.Site, &r.Surface, release, set)
		s.Remarks = append(s.Remarks, s.Surface...)
	}
	s.Check = EvaluateGroundCheck(&r.GroundCheck, plan.Later.groundCheck(), release, in.Formula, set.GroundCheck)
	if len(s.Check.Lines) > 0 {
		s.Remarks = append(s.Remarks, s.Check.Remarks...)
	}
	r.GroundCheck.Result = s.Check.Words()
	if payloadErr == nil {
		s.Airspace = ClassOf(packages, plan.Payload.Break)
		s.Remarks = append(s.Remarks, s.Airspace.Remarks...)
	} else {
		s.Airspace.Defer = Defer
	}
	var more []Remark
	s.List, more = list.For(kind != gas.Helium, night || slotErr != nil, plan.Ticks)
	s.Remarks = append(s.Remarks, more...)
	r.Ticks = ticksOf(s.List)
	s.Label = Label(plan.Contact, r.Radiosonde.Serial, release, r.Site.Name)
	if len(missing) == 0 && worst(s.Surface) < Stop {
		missing = append(missing, Remark{"fill", Stop, err.Error()})
	}
	if worst(s.Remarks) == Stop || worst(missing) == Stop {
		s.Word = Halt
	}
	return s, missing
}
