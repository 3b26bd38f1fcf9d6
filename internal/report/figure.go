package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"leadline/internal/indices"
	"leadline/internal/parcel"
	"leadline/internal/plot"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// FigureOptions are the choices of a figure.
type FigureOptions struct {
	Kind    string  // one of Figures
	PNG     bool    // pixels; else SVG
	WidthMM float64 // where it is printed; 0 is 170
	DPI     float64 // of a PNG; 0 is 300
}

// Figures are the kinds of figure: the thermodynamic diagram, the hodograph, or one sheet
// of both with the indices that forecasters read first.
var Figures = []string{"diagram", "hodograph", "sheet"}

// Figure writes a picture of the outcome's profile, for a report or a paper. An error says
// what the flight does not hold.
func Figure(w io.Writer, o *workbench.Outcome, opt FigureOptions) error {
	if opt.WidthMM == 0 {
		opt.WidthMM = 170
	}
	if opt.DPI == 0 {
		opt.DPI = 300
	}
	p := newProfile(o.Final)
	pressure, t := p.usable(sounding.Pressure), p.values(&o.Final.Columns, sounding.Temperature)
	u, v := p.usable(sounding.WindU), p.usable(sounding.WindV)
	air := p.ascent && some(pressure) && t != nil && some(t)
	wind := p.unit == "km" && some(u) && some(v)
	width, height := 640.0, 690.0
	switch opt.Kind {
	case "diagram":
		if !air {
			return fmt.Errorf("no diagram: the %s has no usable pressure and temperature", o.Final.ProfileKind())
		}
	case "hodograph":
		width, height = 420, 470
		if !wind {
			return fmt.Errorf("no hodograph: the %s has no usable wind with a height", o.Final.ProfileKind())
		}
	case "sheet":
		width = 960
		if !air && !wind {
			return fmt.Errorf("no figure: the %s has neither temperature nor wind that could be drawn", o.Final.ProfileKind())
		}
	default:
		return fmt.Errorf("%q is no figure: want one of %s", opt.Kind, strings.Join(Figures, ", "))
	}
	title := figureTitle(o)
	var c *plot.Canvas
	var err error
	if opt.PNG {
		c, err = plot.NewPNG(width, height, opt.WidthMM, opt.DPI)
	} else {
		c = plot.NewSVG(width, height, opt.WidthMM, title)
	}
	if err != nil {
		return err
	}
	c.Text("head", plot.Left, 10, 18, title)
	var set indices.Set
	if opt.Kind != "hodograph" {
		choices := *indices.Default()
		if o.Settings != nil {
			choices = o.Settings.Indices
		}
		if opt.Kind == "diagram" {
			choices.Members = 0
		}
		set = indices.Find(o.Final, &o.Levels, &choices)
		d := &plot.Thermodynamic{}
		if air {
			d = p.thermodynamic(&o.Levels)
		}
		lines := lifted(&set, &choices)
		if len(lines) > 0 {
			d.Parcels = append(d.Parcels, lines[0])
		}
		f := plot.Frame{X: 38, Y: 48, W: 536, H: 580}
		c.Text("unit", plot.Left, 4, f.Y-8, "hPa")
		c.DrawThermodynamic(f, d)
		c.Text("unit", plot.Right, f.X+f.W, f.Y+f.H+28, "°C")
		c.Line("line t strong", f.X, height-18, f.X+24, height-18)
		c.Text("t", plot.Left, f.X+28, height-14, "temperature")
		c.Line("line td strong", f.X+112, height-18, f.X+136, height-18)
		c.Text("td", plot.Left, f.X+140, height-14, "dew point")
		if len(d.Parcels) > 0 {
			c.Line("line dash", f.X+212, height-18, f.X+236, height-18)
			c.Text("tick", plot.Left, f.X+240, height-14, "mixed-layer parcel")
		}
		c.Text("tick", plot.Right, f.X+f.W+60, height-14, "barbs: half 2.5, full 5, pennant 25 m/s")
	}
	switch {
	case opt.Kind == "hodograph":
		drawHodograph(c, plot.Frame{X: 20, Y: 52, W: 380, H: 380}, p.winds(u, v))
	case opt.Kind == "sheet":
		f := plot.Frame{X: 662, Y: 48, W: 280, H: 280}
		if wind {
			drawHodograph(c, f, p.winds(u, v))
		} else {
			c.Text("tick", plot.Left, f.X, f.Y+20, "no usable wind")
		}
		indexColumn(c, &set, f.X, f.Y+f.H+50, f.W)
	}
	b, err := c.Finish()
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// figureTitle names flight, release and profile.
func figureTitle(o *workbench.Outcome) string {
	f := o.Final
	words := map[sounding.ProfileKind]string{sounding.AscentProfile: "ascent", sounding.DescentProfile: "descent", sounding.NominalProfile: "nominal hour", sounding.MergedProfile: "ascent and descent merged"}
	out := f.FlightName + " · " + words[f.ProfileKind()]
	if r := &f.Events.Release; r.Found && !r.UTC.IsZero() {
		out += " · released " + r.UTC.UTC().Format("2006-01-02 15:04") + " UTC"
	}
	return out
}

func drawHodograph(c *plot.Canvas, f plot.Frame, h *plot.Hodograph) {
	c.Text("wd", plot.Left, f.X, f.Y-8, "wind")
	c.Text("unit", plot.Right, f.X+f.W, f.Y-8, "m/s · heights in km")
	c.DrawHodograph(f, h)
}

// lifted are the paths of the parcels of the indices, the mixed layer's first.
func lifted(set *indices.Set, choices *indices.Settings) []plot.Path {
	sat := parcel.SaturationBy(choices.Saturation)
	condensate := parcel.FallsOut
	if choices.Condensate == "stays" {
		condensate = parcel.Stays
	}
	var out []plot.Path
	for _, x := range set.Parcels {
		var a parcel.Ascent
		if x.Name != "mixed layer" || !a.Lift(sat, parcel.Start{Pressure: x.Pressure.Value(), Temperature: x.Temperature.Value(), Vapour: x.Vapour.Value()}, 100, condensate) {
			continue
		}
		var q plot.Path
		for lnp := math.Log(x.Pressure.Value()); lnp > math.Log(100); lnp -= 0.02 {
			t, _ := a.At(lnp)
			q.Pressure, q.Temperature = append(q.Pressure, math.Exp(lnp)), append(q.Temperature, t)
		}
		out = append(out, q)
	}
	return out
}

// indexColumn writes the indices of the sheet, each with its uncertainty.
func indexColumn(c *plot.Canvas, set *indices.Set, x, y, width float64) {
	rows := []struct{ name, label, unit string }{
		{"surface_cape", "CAPE, surface", "J/kg"}, {"mixed_layer_cape", "CAPE, mixed layer", "J/kg"}, {"most_unstable_cape", "CAPE, most unstable", "J/kg"},
		{"mixed_layer_cin", "CIN, mixed layer", "J/kg"}, {"mixed_layer_lcl_pressure", "LCL, mixed layer", "hPa"}, {"mixed_layer_lfc_pressure", "LFC, mixed layer", "hPa"},
		{"mixed_layer_el_pressure", "EL, mixed layer", "hPa"}, {"mixed_layer_lifted_index", "lifted index", "K"}, {"k_index", "K index", "°C"}, {"total_totals", "total totals", "K"},
		{"precipitable_water", "precipitable water", "mm"}, {"freezing_level_height", "freezing level", "m msl"}, {"shear_0_6_km", "shear 0–6 km", "m/s"}, {"helicity_0_3_km_right", "helicity 0–3 km, right", "m²/s²"},
	}
	c.Text("head", plot.Left, x, y, "indices of the "+set.Profile)
	c.Text("unit", plot.Right, x+width, y, "± u (k = 1)")
	for i, r := range rows {
		at := y + 19*float64(i+1)
		c.Text("", plot.Left, x, at, r.label)
		value := "–"
		if found := set.Get(r.name); found != nil && found.Value.Set() {
			value = withUncertainty(found.Value.Value(), found.Uncertainty.Value())
		}
		c.Text("", plot.Right, x+width-44, at, value)
		c.Text("unit", plot.Left, x+width-38, at, r.unit)
	}
	c.Text("tick", plot.Left, x, y+19*float64(len(rows)+1), "energies by virtual temperature")
}

// withUncertainty writes a value with as many decimals as its uncertainty leaves.
func withUncertainty(v, u float64) string {
	decimals := 1
	if u > 0 {
		decimals = int(math.Max(0, math.Min(3, math.Ceil(-math.Log10(u)+1e-9))))
		if u < 2*math.Pow(10, -float64(decimals)) {
			decimals = min(3, decimals+1)
		}
		step := math.Pow(10, -float64(decimals))
		return plot.Number(v, step) + " ± " + plot.Number(u, step)
	}
	return plot.Number(v, 0.1)
}
