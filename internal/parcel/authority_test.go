package parcel

import (
	"math"
	"strings"
	"testing"

	"leadline/internal/authority"
	"leadline/internal/constants"
	"leadline/internal/humidity"
)

const zero = constants.ZeroCelsius

var bolton = SaturationBy(humidity.Bolton)

// table is a profile as a source prints it: hPa, °C, °C, NaN for a missing dew point.
type table struct{ p, t, td []float64 }

// kelvin returns the columns of the package, by Bolton's formula.
func (x table) kelvin() (lnp, p, t, tv, e []float64) {
	for i := range x.p {
		v := bolton.At(x.td[i] + zero)
		k := 20 + zero
		if x.t != nil {
			k = x.t[i] + zero
		}
		lnp, p, t, e = append(lnp, math.Log(x.p[i])), append(p, x.p[i]), append(t, k), append(e, v)
		tv = append(tv, humidity.VirtualTemperature(k, v, x.p[i]))
	}
	return lnp, p, t, tv, e
}

// The 38-level profile THM-32 to THM-35 name, printed in the same public test file.
var manyCrossings = table{
	p: []float64{966, 937.2, 925, 904.6, 872.6, 853, 850, 836, 821, 811.6, 782.3, 754.2, 726.9, 700, 648.9, 624.6, 601.1, 595, 587,
		576, 555.7, 534.2, 524, 500, 473.3, 400, 384.5, 358, 343, 308.3, 300, 276, 273, 268.5, 250, 244.2, 233, 200},
	t: []float64{18.2, 16.8, 16.2, 15.1, 13.3, 12.2, 12.4, 14, 14.4, 13.7, 11.4, 9.1, 6.8, 4.4, -1.4, -4.4, -7.3, -8.1, -7.9, -7.7,
		-8.7, -9.8, -10.3, -13.5, -17.1, -28.1, -30.7, -35.3, -37.1, -43.5, -45.1, -49.9, -50.4, -51.1, -54.1, -55, -56.7, -57.5},
	td: []float64{16.9, 15.9, 15.5, 14.2, 12.1, 10.8, 8.6, 0, -3.6, -4.4, -6.9, -9.5, -12, -14.6, -15.8, -16.4, -16.9, -17.1, -27.9,
		-42.7, -44.1, -45.6, -46.3, -45.5, -47.1, -52.1, -50.4, -47.3, -57.1, -57.9, -58.1, -60.9, -61.4, -62.1, -65.1, -65.6, -66.7, -70.5},
}

// The profiles HUM-12 and HUM-13 name, from the same source; no temperatures are needed.
var (
	nan       = math.NaN()
	thirteen  = table{p: []float64{993, 978, 960.5, 927.6, 925, 895.8, 892, 876, 45.9, 39.9, 36, 36, 34.3}, td: []float64{25.5, 24.1, 23.1, 21.2, 21.1, 19.4, 19.2, 19.2, -87.1, -86.5, -86.5, -86.5, -88.1}}
	fortyFour = table{
		p: []float64{1001, 1000, 997, 977.9, 977, 957, 937.8, 925, 906, 899.3, 887, 862.5, 854, 850, 800, 793.9, 785, 777, 771, 762, 731.8,
			726, 703, 700, 655, 630, 621.2, 602, 570.7, 548, 546.8, 539, 513, 511, 485, 481, 468, 448, 439, 424, 420, 412},
		td: []float64{-25.1, -26.1, -26.8, nan, -27.3, -28.2, nan, -27.2, -26.6, nan, -27.4, nan, -23.5, -23.5, -25.1, nan, -22.9, -17.8,
			-16.6, nan, nan, -16.4, nan, -18.5, -21, -23.7, nan, -28.3, nan, -32.6, nan, -33.8, -35, -35.1, -38.1, -40, -43.3, -44.6, -46.4, -47, -49.2, -50.7},
	}
)

func (x table) without() table {
	var out table
	for i := range x.p {
		if !math.IsNaN(x.td[i]) {
			out.p, out.td = append(out.p, x.p[i]), append(out.td, x.td[i])
		}
	}
	return out
}

// sparse is the six-level profile of THM-30 and THM-31.
func sparse(topCelsius float64) table {
	return table{p: []float64{959, 779.2, 751.3, 724.3, 700, 269}, t: []float64{22.2, 14.6, 12, 9.4, 7, topCelsius}, td: []float64{19, -11.2, -10.8, -10.4, -10, -53.2}}
}

// surface lifts the lowest level's parcel through a table, comparing only at its levels.
func surface(x table, c Convention, rule Rule) (Energy, Ascent) {
	lnp, p, t, tv, e := x.kelvin()
	var a Ascent
	var b Buoyancy
	a.Lift(bolton, Start{p[0], t[0], e[0]}, 50, FallsOut)
	b.Ascend(&a, lnp, p, t, tv, 0)
	return b.Energy(c, rule), a
}

var highest = Rule{Layer: Highest, Smallest: 1e-6}

// Published and computed check values; the source of each stands in its row. Rows whose
// temperatures are in °C say so.
func TestAuthority(t *testing.T) {
	kelvin := func(r authority.Row, name string) float64 {
		v := r.Input(t, name)
		if strings.Contains(r.Inputs, " C") && !strings.Contains(r.Inputs, " K") {
			v += zero
		}
		return v
	}
	equivalentBy := func(f func(t, p, e, tL float64) float64) func(*testing.T, authority.Row) float64 {
		return func(t *testing.T, r authority.Row) float64 {
			k, td := kelvin(r, "T"), kelvin(r, "Td")
			return f(k, r.Input(t, "p"), bolton.At(td), CondensationBolton(k, td))
		}
	}
	exact := func(t *testing.T, r authority.Row) (p, k float64) {
		return bolton.Condensation(r.Input(t, "p"), kelvin(r, "T"), humidity.Bolton.OverWater(kelvin(r, "Td")))
	}
	romps := func(t *testing.T, r authority.Row) float64 {
		k := r.Input(t, "T")
		phase, ice := "RH liquid", r.HasInput("RH ice")
		if ice {
			phase = "RH ice"
		}
		e := r.Input(t, phase) * RompsVapourPressure(k, ice)
		return CondensationRomps(r.Input(t, "p"), k, e, strings.Contains(r.Quantity, "deposition")).Height
	}
	pseudo := func(p0, t0, p1 float64) func(*testing.T, authority.Row) float64 {
		return func(*testing.T, authority.Row) float64 {
			out := make([]float64, 1)
			bolton.PseudoAdiabat(out, []float64{p1}, p0, t0)
			return out[0]
		}
	}
	down := func(p1 float64) func(*testing.T, authority.Row) float64 {
		f := pseudo(600, zero, p1)
		return func(t *testing.T, r authority.Row) float64 { return f(t, r) - zero }
	}
	theta := func(t *testing.T, r authority.Row) float64 {
		return PotentialTemperature(r.Input(t, "T"), r.Input(t, "p"))
	}
	answers := map[string]func(t *testing.T, r authority.Row) float64{
		// The source integrates the mixing ratio; specific humidity gives less, see below.
		"HUM-12": func(*testing.T, authority.Row) float64 {
			_, p, _, _, e := thirteen.kelvin()
			return PrecipitableWaterByMixingRatio(p, e, 0)
		},
		"HUM-13": func(*testing.T, authority.Row) float64 {
			_, p, _, _, e := fortyFour.without().kelvin()
			return PrecipitableWaterByMixingRatio(p, e, 0)
		},
		"HUM-14": func(*testing.T, authority.Row) float64 {
			p := []float64{1000, 950, 900}
			e := make([]float64, len(p))
			for i := range p {
				e[i] = humidity.PressureFromMixingRatio(humidity.MixingRatioFromSpecific(0.010), p[i])
			}
			return PrecipitableWater(p, e, 900)
		},
		"THM-01": theta, "THM-02": theta,
		"THM-03": func(t *testing.T, r authority.Row) float64 { return Exner(r.Input(t, "p")) },
		"THM-07": equivalentBy(EquivalentBolton43), "THM-08": equivalentBy(EquivalentBolton43),
		"THM-09": equivalentBy(EquivalentBolton38), "THM-10": equivalentBy(EquivalentBolton38),
		"THM-11": func(t *testing.T, r authority.Row) float64 {
			return CondensationBolton(kelvin(r, "T"), kelvin(r, "Td")) - zero
		},
		"THM-12": func(t *testing.T, r authority.Row) float64 { p, _ := exact(t, r); return p },
		"THM-13": func(t *testing.T, r authority.Row) float64 { _, k := exact(t, r); return k - zero },
		"THM-14": func(t *testing.T, r authority.Row) float64 { p, _ := exact(t, r); return p },
		"THM-15": romps, "THM-16": romps, "THM-17": romps, "THM-18": romps, "THM-19": romps,
		"THM-20": pseudo(1000, 293, 800), "THM-21": pseudo(1000, 293, 600),
		"THM-22": pseudo(1000, 293, 500), "THM-23": pseudo(1000, 293, 400),
		"THM-24": down(700), "THM-25": down(850), "THM-26": down(925), "THM-27": down(1000),
		"THM-28": func(*testing.T, authority.Row) float64 {
			out := make([]float64, 1)
			DryAdiabat(out, []float64{500}, 293)
			return out[0]
		},
		"THM-29": func(*testing.T, authority.Row) float64 {
			_, p, k, _, e := table{p: []float64{1000, 959, 867.9}, t: []float64{18.2, 22.2, 17.4}, td: []float64{19, 19, 14.3}}.kelvin()
			return p[MostUnstable(p, k, e, 100)]
		},
		"THM-30": func(*testing.T, authority.Row) float64 {
			x, _ := surface(sparse(-49), Temperature, highest)
			return math.Exp(x.FreeConvection)
		},
		"THM-31": func(*testing.T, authority.Row) float64 {
			x, _ := surface(sparse(-38), Temperature, highest)
			return math.Exp(x.Neutral)
		},
		"THM-32": func(*testing.T, authority.Row) float64 {
			x, _ := surface(manyCrossings, VirtualEnergy, highest)
			return x.Cape
		},
		"THM-33": func(*testing.T, authority.Row) float64 {
			x, _ := surface(manyCrossings, VirtualEnergy, highest)
			return x.CinNet
		},
		"THM-34": func(*testing.T, authority.Row) float64 {
			x, _ := surface(manyCrossings, VirtualEnergy, highest)
			return math.Exp(x.FreeConvection)
		},
		"THM-35": func(*testing.T, authority.Row) float64 {
			x, _ := surface(manyCrossings, VirtualEnergy, highest)
			return math.Exp(x.Neutral)
		},
		"THM-36": func(*testing.T, authority.Row) float64 {
			b := Buoyancy{lnLCL: math.Log(800)}
			for _, p := range []float64{800, 700.0000001, 700, 600, 500, 400, 300, 299.9999999, 200} {
				d := -1.0
				if p <= 700 && p >= 300 {
					d = 2
				}
				b.LnP, b.Virtual, b.Temperature = append(b.LnP, math.Log(p)), append(b.Virtual, d), append(b.Temperature, d)
			}
			return b.Energy(Virtual, Rule{Smallest: 1}).Cape
		},
		"THM-37": func(t *testing.T, r authority.Row) float64 {
			var a Ascent
			a.Lift(bolton, Start{850, r.Input(t, "T850") + zero, bolton.At(r.Input(t, "Td850") + zero)}, 400, FallsOut)
			return a.Lifted(math.Log(500), r.Input(t, "T500")+zero)
		},
		"THM-38": func(t *testing.T, r authority.Row) float64 {
			i := func(n string) float64 { return r.Input(t, n) }
			return KIndex(i("T850"), i("Td850"), i("T700"), i("Td700"), i("T500"))
		},
		"THM-39": func(t *testing.T, r authority.Row) float64 {
			return TotalTotals(r.Input(t, "T850"), r.Input(t, "Td850"), r.Input(t, "T500"))
		},
		"THM-40": func(t *testing.T, r authority.Row) float64 {
			// Two levels of an isothermal layer, 50 m apart: dp = -p g/(R T) dz.
			k := r.Input(t, "T")
			p2 := 500 * math.Exp(-constants.G0*50/(constants.Rd*k))
			return SquaredBuoyancyFrequency(PotentialTemperature(k, 500), 0, PotentialTemperature(k, p2), 50)
		},
		"THM-41": func(*testing.T, authority.Row) float64 {
			const n = 9000
			var z, u, v []float64
			for i := 0; i <= n; i++ {
				// Wind from the south turning clockwise to wind from the west, about the storm.
				s, c := math.Sincos(math.Pi / 2 * float64(i) / n)
				z, u, v = append(z, 3000*float64(i)/n), append(u, 4+10*s), append(v, -3+10*c)
			}
			return StormRelativeHelicity(z, u, v, 0, 3000, Vector{4, -3})
		},
		"THM-42": func(*testing.T, authority.Row) float64 {
			var z, th, u, v []float64
			for h := 0.0; h <= 2000; h++ {
				speed := 10.0
				if h == 0 {
					speed = 0
				}
				z, th, u, v = append(z, h), append(th, 300+0.005*math.Max(0, h-1000)), append(u, speed), append(v, 0)
			}
			return BoundaryLayerRichardson(z, th, u, v, 0.25)
		},
	}
	authority.Run(t, "parcel", func(t *testing.T, row authority.Row) {
		answer, ok := answers[row.ID]
		if !ok {
			t.Fatalf("%s has no answer here", row.ID)
		}
		got := answer(t, row)
		t.Logf("%s: %.8g", row.ID, got)
		row.Check(t, got)
	})
}

// The three conventions on the 38-level profile, against a second program (methods sheet,
// section 1.4: CAPE 1258.9, 1371.75; CIN -99.9, -50.8) and the figures of the public test
// file itself (temperature only: CAPE 1258.946, CIN -97.752 with the positive parts
// below the level of free convection counted; mixed: CAPE 1345.19). Both compare at the
// levels of the profile alone, so the condensation level is taken out here; with it the
// inhibition is 1.4 J/kg more.
func TestThreeConventions(t *testing.T) {
	lnp, p, k, tv, e := manyCrossings.kelvin()
	var a Ascent
	var all, b Buoyancy
	a.Lift(bolton, Start{p[0], k[0], e[0]}, 50, FallsOut)
	all.Ascend(&a, lnp, p, k, tv, 0)
	b.lnLCL = all.lnLCL
	for i, x := range all.LnP {
		if x != all.lnLCL {
			b.LnP, b.Temperature, b.Virtual = append(b.LnP, x), append(b.Temperature, all.Temperature[i]), append(b.Virtual, all.Virtual[i])
		}
	}
	if len(b.LnP) != len(lnp) {
		t.Fatalf("%d levels, want %d", len(b.LnP), len(lnp))
	}
	rule := Rule{Layer: Largest, Smallest: 1}
	near := func(what string, got, want, margin float64) {
		if !(math.Abs(got-want) <= margin) {
			t.Errorf("%s: %.3f, want %.3f ± %g", what, got, want, margin)
		}
	}
	only := b.Energy(Temperature, rule)
	near("CAPE by temperature", only.Cape, 1258.946, 0.5)
	near("CIN by temperature", only.Cin, -99.9, 0.1)
	near("net CIN by temperature", only.CinNet, -97.752, 0.1)
	throughout := b.Energy(Virtual, rule)
	near("CAPE by virtual temperature", throughout.Cape, 1371.75, 0.5)
	near("CIN by virtual temperature", throughout.Cin, -50.8, 0.1)
	near("LFC by virtual temperature", math.Exp(throughout.FreeConvection), 740.15, 0.1)
	mixed := b.Energy(VirtualEnergy, rule)
	near("CAPE, crossings by temperature", mixed.Cape, 1345.19, 0.03*1345.19)
	// Two layers: a shallow one at 884 to 850 hPa holds 2.19 J/kg (the same file), and
	// the choice between them is the rule's.
	low := b.Energy(Temperature, Rule{Layer: Lowest, Smallest: 1})
	near("lowest LFC", math.Exp(low.FreeConvection), 884.1479, 0.05)
	near("lowest EL", math.Exp(low.Neutral), 849.7999, 0.05)
	near("CAPE of the lowest layer", low.Cape, 2.18798, 0.02)
	near("CIN below it", low.CinNet, -8.16221, 0.05)
	whole := b.Energy(Temperature, Rule{Layer: Whole, Smallest: 1})
	near("CAPE of both layers", whole.Cape, only.Cape+low.Cape, 1e-9)
}

// Another profile of the same public test file, 53 levels: CAPE of the surface parcel by
// temperature 2007.040698 J kg⁻¹ and no inhibition, the condensation level among the levels.
func TestFiftyThreeLevels(t *testing.T) {
	x := table{
		p: []float64{1012, 1009, 1002, 1000, 925, 896, 855, 850, 849, 830, 775, 769, 758, 747, 741, 731, 712, 700, 691, 671, 636, 620, 610, 601, 594, 587, 583,
			580, 571, 569, 554, 530, 514, 506, 502, 500, 492, 484, 475, 456, 449, 442, 433, 427, 400, 395, 390, 351, 300, 298, 294, 274, 250},
		t: []float64{27.8, 25.8, 24.2, 24, 18.8, 16, 13, 12.6, 12.6, 11.6, 9.2, 8.6, 8.4, 9.2, 10, 9.4, 7.4, 6.2, 5.2, 3.2, -0.3, -2.3, -3.3, -4.5, -5.5, -6.1, -6.1,
			-6.1, -6.3, -6.3, -7.7, -9.5, -9.9, -10.3, -10.9, -11.1, -11.9, -12.7, -13.7, -16.1, -16.9, -17.9, -19.1, -19.9, -23.9, -24.7, -25.3, -29.5, -39.3, -39.7, -40.5, -44.3, -49.3},
		td: []float64{19.8, 16.8, 16.2, 16, 13.8, 12.8, 10.1, 9.7, 9.7, 8.6, 4.2, 3.9, 0.4, -5.8, -32, -34.6, -35.6, -34.8, -32.8, -10.8, -9.3, -10.3, -9.3, -10.5, -10.5, -10, -16.1,
			-19.1, -23.3, -18.3, -17.7, -20.5, -27.9, -32.3, -33.9, -34.1, -35.9, -26.7, -37.7, -43.1, -33.9, -40.9, -46.1, -34.9, -33.9, -33.7, -33.3, -42.5, -50.3, -49.7, -49.5, -58.3, -61.3},
	}
	e, a := surface(x, Temperature, Rule{Layer: Whole, Smallest: 1})
	if math.Abs(e.Cape/2007.040698-1) > 0.001 || e.Cin < -0.1 {
		t.Errorf("CAPE %.3f, CIN %.3f J/kg, LFC %.2f, LCL %.2f, open %v", e.Cape, e.Cin, math.Exp(e.FreeConvection), a.Pressure, e.Open)
	}
}
