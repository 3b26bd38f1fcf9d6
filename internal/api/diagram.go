package api

import (
	"math"
	"net/http"
	"sync"

	"leadline/internal/humidity"
	"leadline/internal/indices"
	"leadline/internal/parcel"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// Diagram is the furniture of the thermodynamic diagram: families of lines, each as
// temperatures in K at the same pressures.
type Diagram struct {
	Pressure []sounding.Number `json:"pressure_hpa"`
	Dry      []DiagramLine     `json:"dry_adiabats"`    // by potential temperature, K
	Moist    []DiagramLine     `json:"pseudo_adiabats"` // by temperature at 1000 hPa, K
	Mixing   []DiagramLine     `json:"mixing_ratios"`   // by mixing ratio, g/kg
	Formula  string            `json:"saturation"`
}

// DiagramLine is one line of a family.
type DiagramLine struct {
	Of          float64           `json:"of"`
	Temperature []sounding.Number `json:"temperature_k"`
}

var diagram = sync.OnceValue(func() Diagram {
	d := Diagram{Formula: humidity.HylandWexler.String()}
	var p []float64
	for x := 1050.0; x >= 100; x -= 10 {
		p = append(p, x)
	}
	d.Pressure = numbers(p)
	s := parcel.SaturationBy(humidity.HylandWexler)
	t := make([]float64, len(p))
	for theta := 233.15; theta < 480; theta += 10 {
		parcel.DryAdiabat(t, p, theta)
		d.Dry = append(d.Dry, DiagramLine{theta, numbers(t)})
	}
	for start := 253.15; start < 310; start += 5 {
		s.PseudoAdiabat(t, p, 1000, start)
		d.Moist = append(d.Moist, DiagramLine{start, numbers(t)})
	}
	for _, r := range []float64{0.4, 1, 2, 4, 7, 10, 16, 24} {
		s.MixingRatioLine(t, p, r/1000)
		d.Mixing = append(d.Mixing, DiagramLine{r, numbers(t)})
	}
	return d
})

// numbers are values as they travel, to a hundredth: a line on a screen needs no more.
func numbers(x []float64) []sounding.Number {
	out := make([]sounding.Number, len(x))
	for i, v := range x {
		out[i] = sounding.Number(math.Round(v*100) / 100)
	}
	return out
}

func (s *server) diagram(w http.ResponseWriter, _ *http.Request) {
	s.reply(w, http.StatusOK, diagram())
}

// Indices are what forecasters read off a flight, with the parcels behind them.
type Indices struct {
	Set     indices.Set  `json:"set"`
	Parcels []ParcelPath `json:"parcels"`
}

// ParcelPath is a parcel lifted through the profile.
type ParcelPath struct {
	Name                    string            `json:"name"`
	Pressure                []sounding.Number `json:"pressure_hpa"`
	Temperature             []sounding.Number `json:"temperature_k"`
	CondensationPressure    sounding.Number   `json:"condensation_pressure_hpa"`
	CondensationTemperature sounding.Number   `json:"condensation_temperature_k"`
}

func (s *server) indices(w http.ResponseWriter, r *http.Request) {
	o, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err == nil {
		o, err = along(o, r)
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	set := indexSettings(o)
	if r.URL.Query().Get("uncertainty") == "no" {
		set.Members = 0 // a tenth of the work: enough for parcels and a first look
	}
	found := indices.Find(o.Final, &o.Levels, set)
	found.Indices, found.Inversions, found.Ducts, found.Notes = list(found.Indices), list(found.Inversions), list(found.Ducts), list(found.Notes)
	found.Parcels = list(found.Parcels)
	s.reply(w, http.StatusOK, Indices{Set: found, Parcels: parcels(&found, set)})
}

// indexSettings returns a copy of the settings the flight's indices are computed by.
func indexSettings(o *workbench.Outcome) *indices.Settings {
	if o.Settings == nil {
		return indices.Default()
	}
	set := o.Settings.Indices
	return &set
}

// IndexChange is an index before and after a decision.
type IndexChange struct {
	Name   string          `json:"name"`
	Label  string          `json:"label"`
	Unit   string          `json:"unit"`
	Before sounding.Number `json:"before"` // null where it is refused
	After  sounding.Number `json:"after"`
}

// worthTelling is the share of its value, and the least amount, by which an index must
// change to be told.
const (
	worthTelling = 0.01
	leastTelling = 0.05
)

// indexChanges compares the indices of two outcomes, without their uncertainties.
func indexChanges(before, after *workbench.Outcome) []IndexChange {
	set := indexSettings(after)
	set.Members = 0
	a, b := indices.Find(before.Final, &before.Levels, set), indices.Find(after.Final, &after.Levels, set)
	out := []IndexChange{}
	for _, x := range a.Indices {
		y := b.Get(x.Name)
		if y == nil {
			continue
		}
		if x.Value.Set() == y.Value.Set() {
			least := max(leastTelling, worthTelling*math.Abs(x.Value.Value()))
			if !x.Value.Set() || math.Abs(y.Value.Value()-x.Value.Value()) <= least {
				continue
			}
		}
		out = append(out, IndexChange{x.Name, x.Label, x.Unit, x.Value, y.Value})
	}
	return out
}

// parcels lifts the parcels that the indices were computed with.
func parcels(found *indices.Set, set *indices.Settings) []ParcelPath {
	out := []ParcelPath{}
	sat := parcel.SaturationBy(set.Saturation)
	if sat == nil {
		return out
	}
	condensate := parcel.FallsOut
	if set.Condensate == "stays" {
		condensate = parcel.Stays
	}
	for _, x := range found.Parcels {
		start := parcel.Start{Pressure: x.Pressure.Value(), Temperature: x.Temperature.Value(), Vapour: x.Vapour.Value()}
		var a parcel.Ascent
		if !a.Lift(sat, start, 100, condensate) {
			continue
		}
		path := ParcelPath{Name: x.Name, CondensationPressure: sounding.Number(a.Pressure), CondensationTemperature: sounding.Number(a.Temperature)}
		var pressure, temperature []float64
		for lnp := math.Log(start.Pressure); lnp > math.Log(100); lnp -= 0.02 {
			v, _ := a.At(lnp)
			pressure, temperature = append(pressure, math.Exp(lnp)), append(temperature, v)
		}
		path.Pressure, path.Temperature = numbers(pressure), numbers(temperature)
		out = append(out, path)
	}
	return out
}
