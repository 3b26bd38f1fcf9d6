package prelaunch

import (
	"fmt"
	"math"
)

// Package is one body tied below the balloon.
type Package struct {
	Name         string  `json:"name" toml:"name"`
	Mass         float64 `json:"mass_kg" toml:"mass_kg"`
	SmallestFace float64 `json:"smallest_face_cm2" toml:"smallest_face_cm2"` // area of the smallest face; 0 not known
}

// Airspace is the sheet's part for the airspace authority: public classes by weight and
// size, as information.
type Airspace struct {
	Total     float64  `json:"payload_kg"`
	Class     string   `json:"icao_class"` // light, medium, heavy
	Because   string   `json:"because"`
	US101     bool     `json:"us_part_101_subpart_d"` // applies by weight, density or strength of the rope
	US101Why  string   `json:"us_because"`
	Sentences []string `json:"information"`
	Defer     string   `json:"defer"`
	Remarks   []Remark `json:"remarks,omitempty"`
}

// Limits of ICAO Annex 2, appendix on unmanned free balloons (1.1), and of 14 CFR
// 101.1(a)(4), both read in stored text.
const (
	lightTotal     = 4.0   // kg
	mediumTotal    = 6.0   // kg
	heavyPackage   = 3.0   // kg
	densePackage   = 2.0   // kg, with more than denseArea
	denseArea      = 13.0  // g cm⁻²
	ropeForce      = 230.0 // N
	pound          = 0.45359237
	ounce          = pound / 16
	squareInch     = 6.4516 // cm²
	poundForce     = 4.4482216
	usRopeForce    = 50 * poundForce
	usPackage      = 6 * pound
	usTotal        = 12 * pound
	usDensePackage = 4 * pound
	usDenseArea    = 3 * 1000 * ounce / squareInch // g cm⁻²
)

// Defer is the sentence that stands under everything about airspace.
const Defer = "For information only: the airspace authority of the State decides, and its present rules, the site's agreement and trained practice go before this sheet. Section numbers change with editions."

// ClassOf sorts packages into the public classes. ropeBreak is the impact force in N that
// parts the suspension, 0 where not known.
func ClassOf(packages []Package, ropeBreak float64) Airspace {
	a := Airspace{Class: "light", Defer: Defer}
	r := remarks{about: "airspace"}
	heavy, dense := "", ""
	for _, p := range packages {
		a.Total += p.Mass
		area := math.NaN()
		if p.SmallestFace > 0 {
			area = 1000 * p.Mass / p.SmallestFace
		}
		switch {
		case p.Mass >= heavyPackage:
			heavy = fmt.Sprintf("%s weighs %.2f kg, 3 kg or more", p.Name, p.Mass)
		case p.Mass >= densePackage && area > denseArea:
			heavy = fmt.Sprintf("%s weighs %.2f kg with %.1f g/cm² on its smallest face, more than 13", p.Name, p.Mass, area)
		case p.Mass >= densePackage && math.IsNaN(area):
			r.say(Warning, "%s weighs %.2f kg: its smallest face decides the class and is not given", p.Name, p.Mass)
		}
		switch {
		case p.Mass > usPackage:
			dense = fmt.Sprintf("%s weighs %.2f kg, more than 6 lb", p.Name, p.Mass)
		case p.Mass > usDensePackage && area > usDenseArea:
			dense = fmt.Sprintf("%s weighs %.2f kg, more than 4 lb, with more than 3 oz per square inch", p.Name, p.Mass)
		}
	}
	switch {
	case a.Total >= mediumTotal:
		a.Class, a.Because = "heavy", fmt.Sprintf("the payload weighs %.2f kg, 6 kg or more", a.Total)
	case heavy != "":
		a.Class, a.Because = "heavy", heavy
	case ropeBreak >= ropeForce:
		a.Class, a.Because = "heavy", fmt.Sprintf("the suspension needs %.0f N to part, 230 N or more", ropeBreak)
	case a.Total >= lightTotal && len(packages) >= 2:
		a.Class, a.Because = "medium", fmt.Sprintf("%d packages weigh %.2f kg together, 4 kg or more", len(packages), a.Total)
	case a.Total >= lightTotal:
		// one package of 4 kg is 3 kg or more and was heavy already
		a.Class, a.Because = "heavy", fmt.Sprintf("the payload weighs %.2f kg", a.Total)
	default:
		a.Because = fmt.Sprintf("the payload weighs %.2f kg, less than 4 kg, and nothing makes it heavy", a.Total)
	}
	switch {
	case dense != "":
		a.US101, a.US101Why = true, dense
	case len(packages) >= 2 && a.Total > usTotal:
		a.US101, a.US101Why = true, fmt.Sprintf("%d packages weigh %.2f kg together, more than 12 lb", len(packages), a.Total)
	case ropeBreak > usRopeForce:
		a.US101, a.US101Why = true, fmt.Sprintf("the suspension needs %.0f N to part, more than 50 lb", ropeBreak)
	default:
		a.US101Why = "no package, total or suspension passes its limits"
	}
	a.Sentences = []string{
		"No operation without authorization from the State of launch; crossing another State needs that State's, except a light balloon used only for meteorology and operated as the authority prescribes (ICAO Annex 2, appendix on unmanned free balloons).",
		"Where drift across a border is to be expected, authorization is obtained before the release.",
		"Medium and heavy balloons: early notice, then messages of launch, position and cancellation as the authority prescribes; heavy ones also cloud and visibility limits, two means of ending the flight, radar reflector, lights at night.",
		"Every balloon: no hazard to persons, property or other aircraft.",
	}
	if a.Class != "light" {
		r.say(Warning, "class %s: %s; ask the authority well before the release", a.Class, a.Because)
	}
	if ropeBreak == 0 {
		r.say(Note, "the breaking force of the suspension is not given: 230 N or more would make any balloon heavy")
	}
	a.Remarks = r.list
	return a
}
