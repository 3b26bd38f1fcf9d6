package prelaunch

import (
	"fmt"
	"math"

	"leadline/internal/earth"
	"leadline/internal/gas"
	"leadline/internal/sounding"
)

// FillInput is what a fill is planned from. One of Rate, Free and Nozzle is set.
type FillInput struct {
	Gas           gas.Mixture
	Load          gas.Load
	Air           gas.Air // at the release point
	Humidity      float64 // %, NaN where not known
	Ground        float64 // m above mean sea level
	Latitude      float64
	Rate          float64 // m s⁻¹, target
	AtRelease     bool    // the target is the rate at the release point; else the mean up to the burst
	Free          float64 // kg, given free lift
	Nozzle        float64 // kg, given nozzle lift
	Weather       gas.Allowance
	Drag          gas.Drag
	BurstDiameter float64 // m
	BurstU        float64 // m, standard uncertainty
	Atmosphere    gas.Atmosphere
}

// FillPlan is the answer, each number with its standard uncertainty for the nozzle lift
// being filled to: what the scale shows decides, the rest follows.
type FillPlan struct {
	Gas           string        `json:"gas"`
	Purity        float64       `json:"purity_pct"`
	Balloon       float64       `json:"balloon_kg"`
	Payload       float64       `json:"payload_kg"`
	Weather       gas.Allowance `json:"weather"`
	NozzleLift    Value         `json:"nozzle_lift_kg"`
	FreeLift      Value         `json:"free_lift_kg"`
	GrossLift     Value         `json:"gross_lift_kg"`
	Volume        Value         `json:"volume_m3"`
	GasMass       Value         `json:"gas_mass_kg"`
	Amount        Value         `json:"amount_mol"`
	Diameter      Value         `json:"diameter_m"`
	ReleaseRate   Value         `json:"release_rate_m_s"`
	MeanRate      Value         `json:"mean_rate_m_s"`
	BurstDiameter Value         `json:"burst_diameter_m"`
	BurstHeight   Value         `json:"burst_height_m_msl"`
	BurstPressure Value         `json:"burst_pressure_hpa"`
	BurstTime     Value         `json:"burst_time_s"`
	Reynolds      float64       `json:"release_reynolds"`
	Rates         []RateAt      `json:"rates"` // expected rate of climb with height
	DragFrom      string        `json:"drag_from"`
	Fill          gas.Fill      `json:"-"`
	Remarks       []Remark      `json:"remarks,omitempty"`
}

// RateAt is the expected rate of climb at a height.
type RateAt struct {
	Height   float64 `json:"height_m_msl"`
	Pressure float64 `json:"pressure_hpa"`
	Time     float64 `json:"time_s"`
	Rate     float64 `json:"rate_m_s"`
	U        float64 `json:"rate_u_m_s"`
	Diameter float64 `json:"diameter_m"`
}

// outputs of a fill that carry an uncertainty, in a fixed order.
const (
	oVolume = iota
	oMass
	oAmount
	oGross
	oDiameter
	oRelease
	oMean
	oHeight
	oPressure
	oTime
	nOutputs
)

// PlanFill plans a fill and propagates the uncertainties of what it is planned from by
// finite differences (JCGM 100:2008, 5.1.3 note 2), with the nozzle lift as filled.
func PlanFill(in FillInput, set *Settings) (*FillPlan, error) {
	scale := earth.HeightScaleAt(in.Latitude)
	ground := scale.Geopotential(in.Ground)
	f, err := solveFill(&in, ground)
	if err != nil {
		return nil, err
	}
	r := remarks{about: "fill"}
	p := &FillPlan{Gas: in.Gas.Kind.String(), Purity: 100 * in.Gas.Purity, Balloon: in.Load.Balloon, Payload: in.Load.Payload, Weather: in.Weather, Fill: f}
	nozzle := f.NozzleLift()

	compute := func(in FillInput, nozzle float64) (out [nOutputs]float64, climb gas.Ascent, err error) {
		f, err := gas.FillForNozzleLift(in.Gas, in.Load, in.Air, nozzle)
		if err != nil {
			return out, climb, err
		}
		if climb, err = f.Climb(ground, in.BurstDiameter, in.Drag, in.Atmosphere, 250); err != nil {
			return out, climb, err
		}
		return [nOutputs]float64{f.Volume(in.Air), f.GasMass(), f.Amount, f.GrossLift(), f.Diameter(in.Air), climb.Levels[0].Rate, climb.Mean,
			scale.Geometric(climb.Burst), climb.Pressure, climb.Time}, climb, nil
	}
	best, climb, err := compute(in, nozzle)
	if err != nil {
		return nil, err
	}
	var variance [nOutputs]float64
	s := &set.Fill
	damp := gas.MoistAir(1000, in.Air.Temperature, 100).Vapour
	// Each input is moved up and down by its uncertainty (sign ±1).
	for _, vary := range []func(*FillInput, *float64, float64){
		func(i *FillInput, _ *float64, sign float64) { i.Air.Pressure += sign * s.Pressure },
		func(i *FillInput, _ *float64, sign float64) { i.Air.Temperature += sign * s.Temperature },
		func(i *FillInput, _ *float64, sign float64) {
			i.Air.Vapour = math.Max(0, i.Air.Vapour+sign*s.Humidity/100*damp)
		},
		func(i *FillInput, _ *float64, sign float64) {
			i.Gas.Purity = math.Min(1, i.Gas.Purity+sign*s.Purity/100)
		},
		func(_ *FillInput, n *float64, sign float64) { *n += sign * s.Lift },
		func(i *FillInput, _ *float64, sign float64) { i.Load.Balloon *= 1 + sign*s.Balloon },
		func(i *FillInput, _ *float64, sign float64) {
			i.Load.Payload = math.Max(0, i.Load.Payload+sign*s.Payload)
		},
		func(i *FillInput, _ *float64, sign float64) { i.Drag = i.Drag.Scaled(1 + sign*i.Drag.Relative) },
		func(i *FillInput, _ *float64, sign float64) { i.BurstDiameter += sign * i.BurstU },
	} {
		var moved [2][nOutputs]float64
		for k, sign := range []float64{-1, 1} {
			other, lift := in, nozzle
			vary(&other, &lift, sign)
			if moved[k], _, err = compute(other, lift); err != nil {
				return nil, fmt.Errorf("the fill lies at the edge of what is possible: %w", err)
			}
		}
		for k := range variance {
			half := (moved[1][k] - moved[0][k]) / 2
			variance[k] += half * half
		}
	}
	// The air aloft and the skin's age and cold add to the burst height what the inputs do not say.
	variance[oHeight] += set.Drift.Burst * set.Drift.Burst
	spread := set.Drift.Burst / 7000 * best[oPressure]
	variance[oPressure] += spread * spread
	variance[oTime] += math.Pow(set.Drift.Burst/best[oMean], 2)
	value := func(k int) Value {
		return Value{sounding.Number(best[k]), sounding.Number(math.Sqrt(variance[k]))}
	}
	p.NozzleLift = Value{sounding.Number(nozzle), sounding.Number(s.Lift)}
	free := f.FreeLift(in.Air)
	p.FreeLift = Value{sounding.Number(free), sounding.Number(math.Hypot(s.Lift, s.Payload))}
	p.GrossLift, p.Volume, p.GasMass, p.Amount, p.Diameter = value(oGross), value(oVolume), value(oMass), value(oAmount), value(oDiameter)
	p.ReleaseRate, p.MeanRate = value(oRelease), value(oMean)
	p.BurstDiameter = Value{sounding.Number(in.BurstDiameter), sounding.Number(in.BurstU)}
	p.BurstHeight, p.BurstPressure, p.BurstTime = value(oHeight), value(oPressure), value(oTime)
	p.Reynolds = climb.Levels[0].Reynolds
	share := math.Sqrt(variance[oMean]) / best[oMean]
	next := math.Ceil((in.Ground+1)/5000) * 5000
	for i, l := range climb.Levels {
		z := scale.Geometric(l.Height)
		if i != 0 && i != len(climb.Levels)-1 && z < next {
			continue
		}
		if z >= next {
			next += 5000
		}
		p.Rates = append(p.Rates, RateAt{z, l.Air.Pressure, l.Time, l.Rate, share * l.Rate, l.Diameter})
	}
	p.DragFrom = "planning default, no flights of this station yet"
	if in.Drag.Flights > 0 {
		p.DragFrom = fmt.Sprintf("fitted to %d flights of this station", in.Drag.Flights)
	}

	if in.Drag.Flights == 0 {
		r.say(Note, "the rate of climb uses the planning default of drag and is known to ±%.0f %%; give flights of this station to fit it", 50*in.Drag.Relative)
	}
	if free > s.LargestFree*(in.Load.Balloon+in.Load.Payload) {
		r.say(Warning, "the free lift of %.2f kg is more than %g times balloon and payload: look at masses and target", free, s.LargestFree)
	}
	if best[oDiameter] > 0.5*in.BurstDiameter {
		r.say(Warning, "the balloon is filled to %.2f m, more than half its burst diameter of %.2f m", best[oDiameter], in.BurstDiameter)
	}
	if math.IsNaN(in.Humidity) {
		r.say(Note, "humidity at the release point is not given: dry air is taken, which makes the volume up to 1.6 %% too small in warm damp air")
	}
	if in.Weather.Lift > 0 {
		r.say(Note, "%.2f kg of free lift are added for %s: %s", in.Weather.Lift, in.Weather.Word, in.Weather.Note)
	}
	if in.Gas.Kind == gas.Hydrogen {
		r.say(Warning, "hydrogen: burns in air from 4 to 75 %% by volume with an almost invisible flame and a spark too small to feel lights it; no ignition sources, everything and everybody earthed, doors and roof vents open; only trained people, by the rules of the site")
	} else {
		r.say(Note, "helium does not burn, but displaces air in a closed room: fill with the doors open")
	}
	p.Remarks = r.list
	return p, nil
}

// solveFill finds the fill the input asks for.
func solveFill(in *FillInput, ground float64) (gas.Fill, error) {
	given := 0
	for _, x := range []float64{in.Rate, in.Free, in.Nozzle} {
		if x > 0 {
			given++
		}
	}
	if given != 1 {
		return gas.Fill{}, fmt.Errorf("give one of target rate of climb, free lift and nozzle lift: there are %d", given)
	}
	extra := in.Weather.Lift
	switch {
	case in.Nozzle > 0:
		return gas.FillForNozzleLift(in.Gas, in.Load, in.Air, in.Nozzle+extra)
	case in.Free > 0:
		return gas.FillForFreeLift(in.Gas, in.Load, in.Air, in.Free+extra)
	}
	var f gas.Fill
	var err error
	if in.AtRelease {
		f, err = gas.FillForReleaseRate(in.Gas, in.Load, in.Air, in.Rate, in.Drag)
	} else {
		f, err = gas.FillForMeanRate(in.Gas, in.Load, in.Air, in.Rate, ground, in.BurstDiameter, in.Drag, in.Atmosphere)
	}
	if err != nil || extra == 0 {
		return f, err
	}
	return gas.FillForNozzleLift(in.Gas, in.Load, in.Air, f.NozzleLift()+extra)
}
