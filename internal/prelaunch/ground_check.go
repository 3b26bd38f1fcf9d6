package prelaunch

import (
	"fmt"
	"math"
	"strings"
	"time"

	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// CheckLine is one quantity of a ground check.
type CheckLine struct {
	Quantity   string          `json:"quantity"`
	Reference  sounding.Number `json:"reference"` // in the unit
	Radiosonde sounding.Number `json:"radiosonde"`
	Difference sounding.Number `json:"difference"` // radiosonde minus reference
	Limit      float64         `json:"limit"`
	Unit       string          `json:"unit"`
	Word       string          `json:"word"` // accept, reject, not compared
	Text       string          `json:"text"`
}

// GroundCheckResult is the judgement of a radiosonde before release.
type GroundCheckResult struct {
	Word    string      `json:"word"` // accept, reject, incomplete: what the comparison says
	Reason  string      `json:"reason"`
	Lines   []CheckLine `json:"lines"`
	Drift   []string    `json:"drift,omitempty"` // what has moved since, by a second comparison
	Ruling  string      `json:"ruling"`          // accept or reject by a person; "" none
	RuledBy string      `json:"ruled_by"`
	Because string      `json:"ruling_reason"`
	InForce string      `json:"in_force"` // the word after the ruling
	Remarks []Remark    `json:"remarks,omitempty"`
}

// Words returns the comparison's result as it stands in the launch record; "" where
// nothing was compared.
func (g *GroundCheckResult) Words() string {
	if len(g.Lines) == 0 {
		return ""
	}
	words := g.Word + ": " + g.Reason
	for _, d := range g.Drift {
		words += "; " + d
	}
	return words
}

// Heading is the word in force with how it came about: "accept", or "reject, overruled:
// accept".
func (g *GroundCheckResult) Heading() string {
	switch {
	case g.InForce == g.Word:
		return g.Word
	case g.Ruling == Rejected:
		return g.Word + ", ruled: reject"
	}
	return g.Word + ", overruled: " + g.InForce
}

// RulingWords says who ruled and why; "" where nobody did.
func (g *GroundCheckResult) RulingWords() string {
	if g.Ruling == "" {
		return ""
	}
	return fmt.Sprintf("ruled %s by %s: %s", g.Ruling, or(g.RuledBy, "(no name)"), or(g.Because, "(no reason)"))
}

// Words of a ground check.
const (
	Accepted    = "accept"
	Rejected    = "reject"
	Incomplete  = "incomplete"
	NotCompared = "not compared"
)

// EvaluateGroundCheck compares a radiosonde with the references. The reference humidity
// is converted to the temperature of the radiosonde's sensor at one vapour pressure
// before the two are compared. later may hold a second comparison made nearer to the
// release (nil: none): its differences less those of the first are the drift. release is
// the planned or true instant, zero where not known. formula is that of the radiosonde's
// humidity calibration. A ruling in g is what a person decided; against the comparison it
// counts only with a name and a reason, and both stay visible.
func EvaluateGroundCheck(g, later *sounding.GroundCheck, release time.Time, formula humidity.Formula, limits GroundCheckLimits) GroundCheckResult {
	r := remarks{about: "ground check"}
	out := GroundCheckResult{}
	reference := referenceHumidity(g, formula)
	if d := math.Abs(g.Temperature.Value() - g.ReferenceTemperature.Value()); d > limits.Spread {
		r.say(Warning, "radiosonde and reference differ by %.1f K: the box may not be ventilated, or the radiosonde still carries the warmth of the room; compare again after some minutes", d)
	}
	compare := func(quantity string, ref, sonde sounding.Number, limit float64, unit string, decimals int) {
		l := CheckLine{Quantity: quantity, Reference: ref, Radiosonde: sonde, Difference: sounding.NotSet, Limit: limit, Unit: unit, Word: NotCompared}
		switch {
		case !ref.Set() && !sonde.Set():
			return
		case !ref.Set():
			l.Text = quantity + " is not compared: the reference is missing"
		case !sonde.Set():
			l.Text = quantity + " is not compared: the radiosonde's reading is missing"
		default:
			d := sonde.Value() - ref.Value()
			l.Difference, l.Word = sounding.Number(d), Accepted
			l.Text = fmt.Sprintf("%s reads %+.*f %s against the reference, limit ±%g %s", quantity, decimals, d, unit, limit, unit)
			if math.Abs(d) > limit {
				l.Word = Rejected
			}
		}
		out.Lines = append(out.Lines, l)
	}
	compare("temperature", g.ReferenceTemperature, g.Temperature, limits.Temperature, "K", 2)
	compare("pressure", g.ReferencePressure, g.Pressure, limits.Pressure, "hPa", 2)
	if g.Humidity.Set() || !g.HumidityA.Set() && !g.HumidityB.Set() {
		compare("humidity", reference, g.Humidity, limits.Humidity, "%", 1)
	}
	if g.HumidityA.Set() || g.HumidityB.Set() {
		compare("humidity sensor A", reference, g.HumidityA, limits.Humidity, "%", 1)
		compare("humidity sensor B", reference, g.HumidityB, limits.Humidity, "%", 1)
		if d := g.HumidityA.Value() - g.HumidityB.Value(); math.Abs(d) > limits.Pair {
			r.say(Warning, "humidity sensors A and B differ by %+.1f %%, more than %g %%: the uncertainty of humidity grows by half of that", d, limits.Pair)
		} else if math.IsNaN(d) {
			r.say(Warning, "only one of two humidity sensors was read: read both")
		}
	}
	if later != nil {
		second := referenceHumidity(later, formula)
		drift := func(quantity string, d1, d2, limit float64, unit string) {
			if d := d2 - d1; math.Abs(d) > limits.DriftShare*limit {
				text := fmt.Sprintf("%s has moved by %+.2f %s against the reference since the check, more than %.2g %s", quantity, d, unit, limits.DriftShare*limit, unit)
				out.Drift = append(out.Drift, text)
				r.say(Warning, "%s: check it again", text)
			}
		}
		drift("temperature", (g.Temperature - g.ReferenceTemperature).Value(), (later.Temperature - later.ReferenceTemperature).Value(), limits.Temperature, "K")
		drift("pressure", (g.Pressure - g.ReferencePressure).Value(), (later.Pressure - later.ReferencePressure).Value(), limits.Pressure, "hPa")
		drift("humidity", (g.Humidity - reference).Value(), (later.Humidity - second).Value(), limits.Humidity, "%")
		drift("humidity sensor A", (g.HumidityA - reference).Value(), (later.HumidityA - second).Value(), limits.Humidity, "%")
		drift("humidity sensor B", (g.HumidityB - reference).Value(), (later.HumidityB - second).Value(), limits.Humidity, "%")
	}
	if !g.Time.IsZero() && !release.IsZero() {
		switch age := release.Sub(g.Time).Minutes(); {
		case age < 0:
			r.say(Warning, "the ground check is dated %.0f min after the release: look at the clock and the zone", -age)
		case age > limits.Age:
			r.say(Warning, "the ground check is %.0f min old at release, more than %g min: make it again", age, limits.Age)
		case age > limits.WarnAge:
			r.say(Note, "the ground check is %.0f min old at release: it says the less the older it is", age)
		}
	}
	out.Ruling, out.RuledBy, out.Because = g.Ruling, strings.TrimSpace(g.RuledBy), strings.TrimSpace(g.RulingReason)
	overruled := out.Ruling == Accepted && out.RuledBy != "" && out.Because != ""
	compared, rejected := 0, ""
	temperature, damp := false, false
	for _, l := range out.Lines {
		if l.Word == NotCompared {
			r.say(Note, "%s", l.Text)
			continue
		}
		compared++
		temperature = temperature || l.Quantity == "temperature"
		damp = damp || strings.HasPrefix(l.Quantity, "humidity")
		if l.Word == Rejected {
			if rejected != "" {
				rejected += "; "
			}
			rejected += l.Text
		}
	}
	switch {
	case rejected != "":
		out.Word, out.Reason = Rejected, rejected+": ventilate, wait and compare once more; if it stays, take another radiosonde"
		if !overruled {
			r.say(Stop, "reject: %s", out.Reason)
		}
	case compared == 0:
		out.Word, out.Reason = Incomplete, "no quantity was compared with a reference"
		r.say(Warning, "%s", out.Reason)
	case !temperature || !damp:
		out.Word, out.Reason = Incomplete, "temperature or humidity was not compared with a reference"
		r.say(Warning, "%s", out.Reason)
	default:
		out.Word, out.Reason = Accepted, fmt.Sprintf("%d quantities are within their limits", compared)
	}
	out.InForce = out.Word
	switch {
	case out.Ruling == Rejected:
		out.InForce = Rejected
		r.say(Stop, "%s: take another radiosonde", out.RulingWords())
	case out.Ruling == Accepted && out.Word == Accepted:
	case overruled:
		out.InForce = Accepted
		r.say(Warning, "flown against the ground check, %s; the check says %s: %s", out.RulingWords(), out.Word, out.Reason)
	case out.Ruling == Accepted:
		r.say(Stop, "the ground check says %s: to fly the radiosonde all the same, a name and a reason are wanted with the ruling", out.Word)
	}
	out.Remarks = r.list
	return out
}

// referenceHumidity returns the reference's humidity in % at the temperature of the
// radiosonde's sensor: what a perfect sensor that is a little warmer would read.
func referenceHumidity(g *sounding.GroundCheck, formula humidity.Formula) sounding.Number {
	if !g.ReferenceHumidity.Set() || !g.ReferenceTemperature.Set() || !g.Temperature.Set() {
		return g.ReferenceHumidity
	}
	e := formula.FromRelative(g.ReferenceHumidity.Value(), g.ReferenceTemperature.Value())
	return sounding.Number(formula.ToRelative(e, g.Temperature.Value()))
}
