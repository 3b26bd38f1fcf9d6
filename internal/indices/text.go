package indices

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"

	"leadline/internal/levels"
	"leadline/internal/sounding"
)

// textWidth is the number of columns of a terminal that the text is made for.
const textWidth = 80

// plotWidth is the number of columns of the temperature plot beside the levels, one for
// every 4 K from -90 to 38 °C.
const (
	plotWidth  = 33
	plotColumn = 4.0 // K
	plotLeft   = -90.0
)

// TextProfile writes a flight's levels and indices as plain text for a link over a slow
// line: at most 80 ASCII characters a line, about 4 kB. table and set are the flight's
// own; either may be nil. The levels are those of table that a reader looks for:
// surface, standard, tropopauses, freezing level, maximum winds, top.
func TextProfile(w io.Writer, f *sounding.Final, table *levels.Set, set *Set) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s", ascii(f.FlightName))
	if f.Events.Release.Found && !f.Events.Release.UTC.IsZero() {
		fmt.Fprintf(&b, "  released %s UTC", f.Events.Release.UTC.UTC().Format("2006-01-02 15:04:05"))
	}
	b.WriteByte('\n')
	if f.Verdict.Word != "" {
		folded(&b, f.Verdict.Word+": "+f.Verdict.Line, "  ")
	}
	about := "profile: " + string(f.ProfileKind())
	if f.Origin.Note != "" {
		about += ", " + f.Origin.Note
	}
	folded(&b, about, "  ")
	if table != nil {
		textLevels(&b, table)
	}
	if set != nil {
		textIndices(&b, set)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// ascii replaces what a plain terminal may not have.
func ascii(s string) string {
	s = strings.NewReplacer("−", "-", "–", "-", "°C", "C", "°", " deg", "±", "+-", "θ", "theta", "κ", "kappa", "²", "2", "⁻¹", "-1").Replace(s)
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '?'
		}
		return r
	}, s)
}

// folded writes a text in lines of the terminal's width, all but the first indented.
func folded(b *bytes.Buffer, text, indent string) {
	width := 0
	for i, word := range strings.Fields(ascii(text)) {
		switch {
		case i == 0:
		case width+1+len(word) > textWidth:
			b.WriteString("\n" + indent)
			width = len(indent)
		default:
			b.WriteByte(' ')
			width++
		}
		word = cut(word, textWidth-len(indent))
		b.WriteString(word)
		width += len(word)
	}
	b.WriteByte('\n')
}

func cut(s string, n int) string {
	if len(s) > n {
		return s[:n-3] + "..."
	}
	return s
}

func textLevels(b *bytes.Buffer, table *levels.Set) {
	const wanted = levels.Surface | levels.Standard | levels.Tropopause | levels.Freezing | levels.MaximumWind | levels.Top | levels.Lowest
	axis := []byte(strings.Repeat(" ", plotWidth))
	for _, c := range []int{-80, -60, -40, -20, 0, 20} {
		text := fmt.Sprint(c)
		copy(axis[max(0, plotAt(float64(c))-len(text)+1):], text) // its last figure on the temperature
	}
	fmt.Fprintf(b, "\n     hPa  m msl    T C   Td C  RH%%  dir  m/s |%s\n", strings.TrimRight(string(axis), " "))
	for i := range table.Levels {
		l := &table.Levels[i]
		if l.Kind&wanted == 0 {
			continue
		}
		mark := ""
		for _, m := range []struct {
			k levels.Kind
			c string
		}{{levels.Surface, "s"}, {levels.Tropopause, "t"}, {levels.Freezing, "f"}, {levels.MaximumWind, "w"}, {levels.Top, "e"}, {levels.Lowest, "l"}} {
			if l.Kind.Has(m.k) {
				mark += m.c
			}
		}
		celsius := func(n sounding.Number) float64 { return n.Value() - kelvin }
		t, td := celsius(l.Temperature), celsius(l.DewPoint)
		fmt.Fprintf(b, "%-3s%s %s %s %s %s %s %s |%s\n", cut(mark, 3), number(l.Pressure.Value(), 5, pressureDecimals(l.Pressure.Value())), number(l.Height.Value(), 6, 0),
			number(t, 6, 1), number(td, 6, 1), number(l.Humidity.Value(), 4, 0), number(l.Direction.Value(), 4, 0), number(l.Speed.Value(), 4, 0), strings.TrimRight(plot(t, td), " "))
	}
	b.WriteString("s surface  l lowest  t tropopause  f freezing level  w maximum wind  e end\nT temperature  d dew point  * both  : 0 C\n")
	if table.Tropopauses != "" {
		folded(b, "tropopause: "+table.Tropopauses, "  ")
	}
	if l := table.ColdPoint; l != nil {
		fmt.Fprintf(b, "cold point: %.1f C at %.1f hPa, %.0f gpm\n", l.Temperature.Value()-kelvin, l.Pressure.Value(), l.Geopotential.Value())
	}
	for _, l := range table.Of(levels.MaximumWind) {
		fmt.Fprintf(b, "maximum wind: %.0f deg %.0f m/s at %.0f hPa; to 1 km below %s, above %s m/s\n", l.Direction.Value(), l.Speed.Value(), l.Pressure.Value(),
			strings.TrimSpace(number(l.ShearBelow.Value(), 2, 0)), strings.TrimSpace(number(l.ShearAbove.Value(), 2, 0)))
	}
}

func pressureDecimals(p float64) int {
	if p < 100 {
		return 1
	}
	return 0
}

// number writes v right-aligned, dots where it is not known.
func number(v float64, width, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return strings.Repeat(" ", width-1) + "."
	}
	if half := 0.5 * math.Pow(10, -float64(decimals)); math.Abs(v) < half {
		v = 0 // not "-0.0"
	}
	return fmt.Sprintf("%*.*f", width, decimals, v)
}

// plotAt is the plot column of a temperature in °C, kept inside the plot.
func plotAt(c float64) int {
	return min(max(int(math.Round((c-plotLeft)/plotColumn)), 0), plotWidth-1)
}

func plot(t, td float64) string {
	line := []byte(strings.Repeat(" ", plotWidth))
	line[plotAt(0)] = ':'
	if !math.IsNaN(td) {
		line[plotAt(td)] = 'd'
	}
	if !math.IsNaN(t) {
		c := plotAt(t)
		if line[c] == 'd' {
			line[c] = '*'
		} else {
			line[c] = 'T'
		}
	}
	return string(line)
}

func textIndices(b *bytes.Buffer, set *Set) {
	fmt.Fprintf(b, "\n%-14s %9s %9s %9s %12s %12s %9s\n", set.Profile, "LCL hPa", "LFC hPa", "EL hPa", "CAPE J/kg", "CIN J/kg", "lifted K")
	refused := map[string][]string{}
	var order []string
	refuse := func(x *Index) {
		if x == nil || x.Refusal == "" {
			return
		}
		if len(refused[x.Refusal]) == 0 {
			order = append(order, x.Refusal)
		}
		refused[x.Refusal] = append(refused[x.Refusal], x.Label)
	}
	for _, p := range parcelNames {
		fmt.Fprintf(b, "%-14s", strings.TrimSuffix(p.label, " parcel"))
		for i, item := range []int{pLCL, pLFC, pEL, pCape, pCin, pLifted} {
			x := set.Get(p.name + "_" + parcelDefinitions[item].name)
			refuse(x)
			fmt.Fprintf(b, " %*s", []int{9, 9, 9, 12, 12, 9}[i], withUncertainty(x))
		}
		b.WriteByte('\n')
	}
	b.WriteByte('\n')
	// Two to a line.
	list := []struct {
		index int
		label string
	}{
		{iDowndraft, "downdraft CAPE"}, {iShowalter, "Showalter"}, {iK, "K index"}, {iTotal, "total totals"}, {iWater, "precipitable water"}, {iWaterMeasured, "of column measured"},
		{iFreezingHeight, "freezing level msl"}, {iWetBulbZeroHeight, "wet-bulb zero msl"}, {iShear1, "shear 0-1 km"}, {iShear6, "shear 0-6 km"},
		{iRightDirection, "right mover from"}, {iRightSpeed, "right mover"}, {iHelicity1Right, "helicity 0-1 km"}, {iHelicity3Right, "helicity 0-3 km"},
		{iBoundaryRichardson, "boundary layer by Ri"}, {iBoundaryParcel, "  by parcel"}, {iRefractivity, "N at surface"}, {iRefractivityGradient, "dN/dh 0-1 km"},
	}
	for i, item := range list {
		x := set.Get(definitions[item.index].name)
		refuse(x)
		unit := ""
		if x != nil {
			unit = strings.NewReplacer("1e-6 km-1", "N/km", "1e-6", "N", "J kg-1", "J/kg", "m2 s-2", "m2/s2", "m s-1", "m/s", "degree", "deg", "degC", "C").Replace(x.Unit)
			if unit == "1" {
				unit = ""
			}
		}
		value := withUncertainty(x)
		if item.index == iWaterMeasured && x != nil && x.Value.Set() {
			value, unit = fmt.Sprintf("%.0f", 100*x.Value.Value()), "%"
		}
		text := fmt.Sprintf("%-20s %11s %s", item.label, value, unit)
		if i%2 == 0 {
			fmt.Fprintf(b, "%-40s", text)
		} else {
			fmt.Fprintf(b, "%s\n", strings.TrimRight(text, " "))
		}
	}
	for _, x := range set.Inversions {
		fmt.Fprintf(b, "inversion %s K from %.0f to %.0f m above the release point\n", trimmed(x.Strength.Value(), x.UStrength.Value()), x.BaseHeight.Value(), x.TopHeight.Value())
	}
	for _, x := range set.Ducts {
		fmt.Fprintf(b, "duct %s M from %.0f to %.0f m above the release point\n", trimmed(x.Strength.Value(), x.UStrength.Value()), x.Base.Value(), x.Top.Value())
	}
	if len(order) > 0 {
		b.WriteString("no value:\n")
	}
	for _, reason := range order {
		labels := refused[reason]
		more := ""
		if len(labels) > 2 {
			labels, more = labels[:2], fmt.Sprintf(" and %d more", len(refused[reason])-2)
		}
		folded(b, "  "+reason+": "+strings.Join(labels, "; ")+more, "    ")
	}
	folded(b, fmt.Sprintf("CAPE and CIN by virtual temperature, pseudo-adiabatic; +- is one standard uncertainty (%d members); heights msl, layers above the release point", set.Members), "  ")
}

// withUncertainty writes an index as its value and uncertainty, "-" where it is refused.
func withUncertainty(x *Index) string {
	if x == nil || !x.Value.Set() {
		return "-"
	}
	return trimmed(x.Value.Value(), x.Uncertainty.Value())
}

// trimmed writes v to the digit its uncertainty u leaves: one digit of u, two where the
// first is a 1. Without u, four digits.
func trimmed(v, u float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	if !(u > 0) {
		return fmt.Sprintf("%.4g", v)
	}
	power := math.Floor(math.Log10(u))
	if u < 2*math.Pow(10, power) {
		power--
	}
	decimals := int(math.Min(3, math.Max(0, -power)))
	if u < 0.0005 {
		return fmt.Sprintf("%.4g", v)
	}
	return fmt.Sprintf("%.*f+-%.*f", decimals, v, decimals, u)
}
