package prelaunch

import (
	"fmt"
	"math"
	"strings"
	"time"

	"leadline/internal/gas"
	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// Inputs is everything a preparation is made from; files have been read by the caller.
type Inputs struct {
	Record   *sounding.LaunchRecord
	Plan     *Plan
	Wind     *Profile       // nil: none
	Table    *gas.Table     // nil: the shipped one
	List     *List          // nil: the shipped one
	Flights  []gas.Observed // of this station, for drag
	Areas    []Area
	Flown    []Flown          // flights of the logbook, for stock and gas
	Zone     *time.Location   // nil: UTC
	Formula  humidity.Formula // of the radiosonde's humidity calibration
	Settings *Settings        // nil: the shipped ones
	Remarks  []Remark         // what the caller has to say of the inputs
}

// Sheet is the launch sheet: everything that was planned and judged for one release.
type Sheet struct {
	Site     string                 `json:"site"`
	Place    Place                  `json:"place"`
	Height   float64                `json:"height_m_msl"`
	Operator string                 `json:"operator,omitempty"`
	Serial   string                 `json:"serial,omitempty"`
	Zone     string                 `json:"time_zone"`
	Slot     Slot                   `json:"slot"`
	Extra    []Slot                 `json:"extra_slots,omitempty"`
	Sun      []Sunlight             `json:"sun"`
	Surface  []Remark               `json:"surface"`
	Fill     *FillPlan              `json:"fill"`
	Fall     gas.Fall               `json:"fall"`
	Drift    *Prediction            `json:"drift"`
	Watch    []Watch                `json:"areas,omitempty"`
	Horizon  float64                `json:"radio_horizon_at_landing_m_msl"`
	Check    GroundCheckResult      `json:"ground_check"`
	Store    *gas.Store             `json:"gas_store,omitempty"`
	Stock    []Item                 `json:"stock,omitempty"`
	Airspace Airspace               `json:"airspace"`
	List     []Done                 `json:"launch_list"`
	Label    string                 `json:"label"`
	Remarks  []Remark               `json:"remarks"` // all of them, worst first
	Word     string                 `json:"word"`    // ready, look, stop
	Record   *sounding.LaunchRecord `json:"launch_record"`
}

// Words of a sheet.
const (
	Ready = "ready"
	Look  = "look"
	Halt  = "stop"
)

// Prepare plans and judges one release. It returns an error where the fill or the drift
// cannot be computed; whatever else is missing becomes a remark.
func Prepare(in Inputs) (*Sheet, error) {
	set, r, plan := in.Settings, in.Record.Clone(), in.Plan
	if set == nil {
		set = Default()
	}
	zone := in.Zone
	if zone == nil {
		zone = time.UTC
	}
	table := in.Table
	if table == nil {
		table = gas.DefaultTable()
	}
	list := in.List
	if list == nil {
		list = DefaultList()
	}
	for _, need := range []struct {
		path string
		n    sounding.Number
	}{{"site.latitude_deg", r.Site.Latitude}, {"site.longitude_deg", r.Site.Longitude}, {"site.height_m_msl", r.Site.Height},
		{"surface.pressure_hpa", r.Surface.Pressure}, {"surface.temperature_k", r.Surface.Temperature}, {"balloon.mass_kg", r.Balloon.Mass}} {
		if !need.n.Set() {
			return nil, fmt.Errorf("%s is not given: the fill and the drift cannot be planned without it", need.path)
		}
	}
	s := &Sheet{Site: r.Site.Name, Place: Place{r.Site.Latitude.Value(), r.Site.Longitude.Value()}, Height: r.Site.Height.Value(), Operator: r.Operator,
		Serial: r.Radiosonde.Serial, Zone: zone.String()}
	nominal, err := plan.nominal(r, zone)
	if err != nil {
		return nil, err
	}
	r.Release.Nominal = nominal
	s.Slot = NewSlot(nominal, s.Place.Latitude, s.Place.Longitude, zone, set)
	extras, err := plan.extras()
	if err != nil {
		return nil, err
	}
	for _, t := range extras {
		s.Extra = append(s.Extra, NewSlot(t, s.Place.Latitude, s.Place.Longitude, zone, set))
	}
	release := s.Slot.Best
	all := append(append([]Remark(nil), s.Slot.Remarks...), in.Remarks...)
	if !r.Release.Declared.IsZero() {
		release = r.Release.Declared
		all = append(all, s.Slot.Judge(release))
	}

	// Surface observation.
	if plan.CompassWind != nil {
		if r.Surface.WindDirection.Set() {
			return nil, fmt.Errorf("wind_compass_deg and surface.wind_direction_deg are both given: want one")
		}
		r.Surface.WindDirection = sounding.Number(TrueBearing(*plan.CompassWind, plan.Declination))
		if r.Surface.WindSpeed == 0 {
			r.Surface.WindDirection = 0
		}
	}
	s.Surface = JudgeSurface(&r.Site, &r.Surface, release, set)
	all = append(all, s.Surface...)
	if worst(s.Surface) == Stop {
		return nil, fmt.Errorf("the surface observation cannot be used for the fill: %s", firstOf(s.Surface, Stop))
	}

	// Fill.
	packages, payload, remark, err := plan.payload(r)
	if err != nil {
		return nil, err
	}
	if remark != "" {
		all = append(all, Remark{"fill", Warning, remark})
	}
	r.Balloon.Payload = sounding.Number(payload)
	kind, err := gas.ParseKind(r.Balloon.Gas)
	if err != nil {
		return nil, err
	}
	weather, err := gas.AllowanceFor(plan.Fill.Weather)
	if err != nil {
		return nil, fmt.Errorf("fill.%w", err)
	}
	drag := gas.PlanningDrag()
	switch {
	case len(in.Flights) >= 2:
		if drag, err = gas.FitDrag(in.Flights); err != nil {
			return nil, err
		}
	case len(in.Flights) == 1:
		all = append(all, Remark{"fill", Note, "one flight of the station is not enough to fit drag: the planning default is used"})
	}
	relative := r.Surface.Humidity.Value()
	if !r.Surface.Humidity.Set() && r.Surface.DewPoint.Set() {
		relative = humidity.MurphyKoop.RelativeFromDewPoint(r.Surface.DewPoint.Value(), r.Surface.Temperature.Value())
	}
	// Pressure at the release point, not at the barometer.
	pressure := r.Surface.Pressure.Value()
	air := gas.MoistAir(pressure, r.Surface.Temperature.Value(), relative)
	if r.Site.Barometer.Set() {
		air.Pressure *= math.Exp(-air.Density() * 9.80665 * (s.Height - r.Site.Barometer.Value()) / (100 * pressure))
	}
	input := FillInput{Gas: gas.Mixture{Kind: kind, Purity: plan.Fill.Purity / 100}, Load: gas.Load{Balloon: r.Balloon.Mass.Value(), Payload: payload}, Air: air, Humidity: relative,
		Ground: s.Height, Latitude: s.Place.Latitude, AtRelease: plan.Fill.AtRelease, Free: plan.Fill.Free, Weather: weather, Drag: drag,
		BurstDiameter: plan.Fill.Burst, BurstU: plan.Fill.BurstU}
	if input.BurstDiameter == 0 {
		if input.BurstDiameter, err = table.BurstDiameter(r.Balloon.Mass.Value()); err != nil {
			return nil, err
		}
	}
	limits := input.BurstU == 0
	if limits {
		input.BurstU = table.SpreadUncertainty(input.BurstDiameter)
	}
	if input.Free == 0 {
		if r.Balloon.NozzleLift.Set() {
			input.Nozzle = r.Balloon.NozzleLift.Value()
			input.Weather = gas.Allowance{Word: "none"}
		} else {
			input.Rate = r.Balloon.TargetAscentRate.Or(5)
			if !r.Balloon.TargetAscentRate.Set() {
				all = append(all, Remark{"fill", Note, "no target rate of climb is given: 5 m/s (300 m/min), the common one, is taken"})
			}
		}
	}
	wind := in.Wind
	if wind == nil {
		wind = Calm()
		all = append(all, Remark{"drift", Warning, "there is no wind profile: the drift is that of calm air and says nothing; give a wind profile or an earlier flight"})
	}
	input.Atmosphere = wind.Atmosphere(air, s.Height, s.Place.Latitude)
	if s.Fill, err = PlanFill(input, set); err != nil {
		return nil, err
	}
	all = append(all, s.Fill.Remarks...)
	if cold := coldest(input.Atmosphere, s.Height, s.Fill.BurstHeight.Value.Value()); s.Slot.Sun < -3 || cold < 198 {
		all = append(all, Remark{"fill", Note, fmt.Sprintf("coldest air on the way %.0f °C, by %s: cold rubber bursts 3 to 8 km earlier than the table says (from memory; your own flights know better)",
			cold-273.15, map[bool]string{true: "day", false: "night"}[s.Slot.Sun > -3])})
	}
	r.Balloon.NozzleLift = sounding.Number(math.Round(1000*s.Fill.NozzleLift.Value.Value()) / 1000)
	if !r.Balloon.TargetAscentRate.Set() {
		r.Balloon.TargetAscentRate = sounding.Number(math.Round(100*s.Fill.MeanRate.Value.Value()) / 100)
	}

	// Gas and stock.
	releases := max(plan.Slot.Releases, 1)
	if len(plan.Cylinders) > 0 {
		cylinders, err := plan.cylinders(air.Pressure)
		if err != nil {
			return nil, err
		}
		store, more, err := storeOf(plan, kind, cylinders, s.Fill.Fill.Amount, in.Flown, r.Site.Name, releases, set)
		if err != nil {
			return nil, err
		}
		s.Store = &store
		all = append(all, more...)
		all = append(all, JudgeStore(store.Fills, releases, store.Bottles, store.Uncertain, set)...)
	}
	var counted []Remark
	s.Stock, counted = CountDown(plan.Stock, in.Flown, r.Site.Name)
	all = append(append(all, counted...), JudgeStock(s.Stock, releases)...)

	// Drift.
	fall := gas.WithParachute()
	if r.Balloon.Parachute == "no" {
		fall = gas.WithoutParachute()
	} else if r.Balloon.Parachute == "" {
		all = append(all, Remark{"drift", Note, "whether there is a parachute is not given: one is assumed"})
	}
	if plan.Descent.Rate > 0 {
		fall.Rate, fall.Words = plan.Descent.Rate, "at the rate given"
	}
	if plan.Descent.Relative > 0 {
		fall.Relative = plan.Descent.Relative / 100
	}
	s.Fall = fall
	flight := &Flight{Release: release, Start: s.Place, Ground: s.Height, Landing: s.Height, Fill: s.Fill.Fill, Drag: drag, Burst: input.BurstDiameter, Fall: fall}
	if plan.Descent.Ground != nil {
		flight.Landing = *plan.Descent.Ground
		if !(flight.Landing > -450 && flight.Landing < 6000) {
			return nil, fmt.Errorf("descent.landing_height_m_msl of %g: want −450 to 6,000 m", flight.Landing)
		}
	}
	doubt := DoubtOf(flight, table, set)
	doubt.BurstDiameter, doubt.BurstLimits = input.BurstU/input.BurstDiameter, limits
	if s.Drift, err = Predict(flight, State{}, wind, input.Atmosphere, doubt, set); err != nil {
		return nil, err
	}
	all = append(all, s.Drift.Remarks...)
	var more []Remark
	s.Sun, more = SunAlong(release, s.Drift.Track)
	all = append(all, more...)
	antenna := r.Site.Antenna.Or(s.Height + 2)
	s.Watch, more = WatchAreas(in.Areas, s.Drift, s.Place, antenna, set)
	all = append(all, more...)
	s.Horizon = RadioHorizon(s.Drift.Distance, antenna, flight.Landing)

	// Ground check, airspace, list, label.
	formula := in.Formula
	s.Check = EvaluateGroundCheck(&r.GroundCheck, plan.Later.groundCheck(), release, formula, set.GroundCheck)
	all = append(all, s.Check.Remarks...)
	r.GroundCheck.Result = s.Check.Words()
	s.Airspace = ClassOf(packages, plan.Payload.Break)
	all = append(all, s.Airspace.Remarks...)
	night := s.Slot.Sun < -0.833
	s.List, more = list.For(kind == gas.Hydrogen, night, plan.Ticks)
	all = append(all, more...)
	r.Ticks = ticksOf(s.List)
	s.Label = Label(plan.Contact, r.Radiosonde.Serial, release, r.Site.Name)

	// Worst first, else in the order of the work.
	for level := Stop; ; level-- {
		for _, x := range all {
			if x.Level == level {
				s.Remarks = append(s.Remarks, x)
			}
		}
		if level == Note {
			break
		}
	}
	s.Word = [...]string{Ready, Look, Halt}[worst(all)]
	s.Record = r
	return s, nil
}

// coldest returns the lowest temperature in K between two heights in m.
func coldest(air gas.Atmosphere, low, high float64) float64 {
	t := math.Inf(1)
	for z := low; z < high; z += 250 {
		if x := air(z).Temperature; x < t {
			t = x
		}
	}
	return t
}

func firstOf(list []Remark, level Level) string {
	for _, r := range list {
		if r.Level == level {
			return r.Text
		}
	}
	return ""
}

// Words returns the sheet in a few lines of plain text, for a terminal and a logbook.
func (s *Sheet) Words() string {
	var b strings.Builder
	f, d := s.Fill, s.Drift
	v := func(x Value, decimals int) string {
		return fmt.Sprintf("%.*f ± %.*f", decimals, x.Value.Value(), decimals, x.U.Value())
	}
	min := func(x Value) string { return fmt.Sprintf("%.0f ± %.0f min", x.Value.Value()/60, x.U.Value()/60) }
	fmt.Fprintf(&b, "LAUNCH SHEET  %s  %.5f° %.5f°  %.1f m\n", s.Site, s.Place.Latitude, s.Place.Longitude, s.Height)
	fmt.Fprintf(&b, "slot      %s UTC; release %s–%s UTC, best %s UTC (%s local), sun %+.1f°\n", s.Slot.Nominal.Format("2006-01-02 15:04"), s.Slot.Earliest.Format("15:04"), s.Slot.Latest.Format("15:04"), s.Slot.Best.Format("15:04"), s.Slot.LocalBest, s.Slot.Sun)
	for _, x := range s.Extra {
		fmt.Fprintf(&b, "extra     %s UTC; release %s–%s, best %s UTC (%s local)\n", x.Nominal.Format("2006-01-02 15:04"), x.Earliest.Format("15:04"), x.Latest.Format("15:04"), x.Best.Format("15:04"), x.LocalBest)
	}
	fmt.Fprintf(&b, "fill      %s %.1f %%, balloon %.0f g, payload %.0f g, weather %s\n", f.Gas, f.Purity, 1000*f.Balloon, 1000*f.Payload, f.Weather.Word)
	fmt.Fprintf(&b, "          NOZZLE LIFT %.0f g ± %.0f g; free lift %.0f g, gross lift %.0f g\n", 1000*f.NozzleLift.Value.Value(), 1000*f.NozzleLift.U.Value(), 1000*f.FreeLift.Value.Value(), 1000*f.GrossLift.Value.Value())
	fmt.Fprintf(&b, "          volume %s m³, gas %s kg, diameter %s m\n", v(f.Volume, 3), v(f.GasMass, 3), v(f.Diameter, 2))
	fmt.Fprintf(&b, "climb     %s m/s at release, %s m/s on average (%s)\n", v(f.ReleaseRate, 2), v(f.MeanRate, 2), f.DragFrom)
	fmt.Fprintf(&b, "burst     at %s m diameter: %s km, %s hPa, after %s\n", v(f.BurstDiameter, 2), v(Value{f.BurstHeight.Value / 1000, f.BurstHeight.U / 1000}, 1), v(f.BurstPressure, 1), min(f.BurstTime))
	fmt.Fprintf(&b, "landing   %.4f° %.4f°, %s, after %s (estimate)\n", d.Landing.Latitude, d.Landing.Longitude, d.Landing.Place.Words(s.Place), min(d.FlightTime))
	fmt.Fprintf(&b, "          68 %% within %.1f × %.1f km, 95 %% within %.1f × %.1f km half-axes, long axis %03.0f°\n", d.Ellipse.Major68/1000, d.Ellipse.Minor68/1000, d.Ellipse.Major95/1000, d.Ellipse.Minor95/1000, d.Ellipse.Bearing)
	fmt.Fprintf(&b, "          wind: %s; fall %.1f m/s near the ground %s\n", d.Wind, s.Fall.Rate, s.Fall.Words)
	for _, w := range s.Watch {
		fmt.Fprintf(&b, "          %s\n", w.Words)
	}
	fmt.Fprintf(&b, "check     %s: %s\n", s.Check.Heading(), s.Check.Reason)
	if words := s.Check.RulingWords(); words != "" {
		fmt.Fprintf(&b, "          %s\n", words)
	}
	if s.Store != nil {
		fmt.Fprintf(&b, "gas       %d fills left in %d cylinders (%.1f m³ at 15 °C), %d needed\n", s.Store.Fills, s.Store.Bottles, s.Store.FreeGas, s.Store.Needed)
	}
	for _, i := range s.Stock {
		fmt.Fprintf(&b, "stock     %s: %s\n", i.Name, i.Words())
	}
	fmt.Fprintf(&b, "airspace  class %s (%s). %s\n", s.Airspace.Class, s.Airspace.Because, Defer)
	open := 0
	for _, d := range s.List {
		if d.Tick == nil {
			open++
		}
	}
	fmt.Fprintf(&b, "list      %d of %d steps ticked\n", len(s.List)-open, len(s.List))
	fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(s.Word))
	for _, r := range s.Remarks {
		fmt.Fprintf(&b, "%-8s %s: %s\n", r.Level, r.About, r.Text)
	}
	return b.String()
}
