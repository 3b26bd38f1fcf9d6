package igra

import (
	"bytes"
	"fmt"
	"io"
)

// DerivedSounding is one sounding of the derived layout. Header items are NaN
// where missing. Units of the file are turned into those in the names; gradients
// are per kilometre of reported height, from a level to the next one above.
type DerivedSounding struct {
	Header

	PrecipitableWaterMillimeters float64

	// Warmest level of a surface-based inversion, and its temperature excess over the surface.
	InversionPressureHPa           float64
	InversionHeightMeters          float64 // above the surface
	InversionTemperatureRiseKelvin float64

	MixedLayerPressureHPa            float64 // top of the mixed layer
	MixedLayerHeightMeters           float64 // above the surface
	FreezingLevelPressureHPa         float64
	FreezingLevelHeightMeters        float64 // above the surface
	CondensationLevelPressureHPa     float64 // lifting condensation level
	CondensationLevelHeightMeters    float64 // above the surface
	FreeConvectionLevelPressureHPa   float64
	FreeConvectionLevelHeightMeters  float64 // above the surface
	NeutralBuoyancyLevelPressureHPa  float64
	NeutralBuoyancyLevelHeightMeters float64 // above the surface

	LiftedIndexKelvin      float64
	ShowalterIndexKelvin   float64
	KIndexCelsius          float64
	TotalTotalsIndexKelvin float64
	// AvailableEnergyJoulesAKilogram is CAPE; InhibitionJoulesAKilogram is CIN, as signed in the file.
	AvailableEnergyJoulesAKilogram float64
	InhibitionJoulesAKilogram      float64

	PressureHPa                  Column
	ReportedHeightGpm            Column
	CalculatedHeightGpm          Column
	TemperatureKelvin            Column
	TemperatureGradient          Column // K/km
	PotentialTemperatureKelvin   Column
	PotentialTemperatureGradient Column // K/km
	VirtualTemperatureKelvin     Column
	VirtualPotentialKelvin       Column
	VapourPressureHPa            Column
	SaturationVapourPressureHPa  Column
	ReportedHumidityPercent      Column
	CalculatedHumidityPercent    Column
	HumidityGradient             Column // %/km
	EastwardWindMetersASecond    Column
	EastwardWindGradient         Column // (m/s)/km
	NorthwardWindMetersASecond   Column
	NorthwardWindGradient        Column // (m/s)/km
	RefractivityNUnits           Column
}

// DerivedReader reads the soundings of a file of the derived layout.
type DerivedReader struct{ lines lines }

// NewDerivedReader returns a DerivedReader. It reads ahead by at most 64 KiB.
func NewDerivedReader(r io.Reader) *DerivedReader { return &DerivedReader{lines: newLines(r)} }

var derivedSpecial = special{missing: -99999}

// Next works as [Reader.Next] does.
func (r *DerivedReader) Next() (DerivedSounding, error) {
	text, err := r.lines.header()
	if err != nil {
		return DerivedSounding{}, err
	}
	s, err := parseDerivedHeader(text, r.lines.number)
	if err != nil {
		r.lines.skip()
		return DerivedSounding{}, err
	}
	columns := s.columns()
	n := min(s.Levels, 256)
	values, marks := make([]float64, len(columns)*n), make([]Mark, len(columns)*n)
	for i, c := range columns {
		c.Values = values[i*n : i*n : (i+1)*n]
		c.Marks = marks[i*n : i*n : (i+1)*n]
	}
	for i := range s.Levels {
		text, err := r.lines.level(&s.Header, i, derivedLevelWidth)
		if err != nil {
			return DerivedSounding{}, err
		}
		for k, c := range columns {
			v, mark := s.value(text, r.lines.number, derivedLevelFields[k], derivedSpecial, derivedLevelDivisors[k])
			c.Values = append(c.Values, v)
			c.Marks = append(c.Marks, mark)
		}
	}
	return s, nil
}

func parseDerivedHeader(line []byte, number int) (DerivedSounding, error) {
	var s DerivedSounding
	h, err := parseHeader(line, number)
	if err != nil {
		return s, err
	}
	s.Header = h
	if w := len(bytes.TrimRight(line, " ")); w < derivedHeaderWidth {
		hint := "the header is cut; this sounding is left out"
		if w == mainHeaderWidth {
			hint = "this is the main layout: read it as such"
		}
		return s, &RecordError{Line: number, Reason: fmt.Sprintf("the header has %d characters, expected %d", w, derivedHeaderWidth), Hint: hint}
	}
	for i, item := range s.items() {
		*item, _ = s.value(line, number, derivedHeaderFields[i], derivedSpecial, derivedHeaderDivisors[i])
	}
	return s, nil
}

// items are the header items in the order of derivedHeaderFields.
func (s *DerivedSounding) items() [20]*float64 {
	return [20]*float64{
		&s.PrecipitableWaterMillimeters,
		&s.InversionPressureHPa, &s.InversionHeightMeters, &s.InversionTemperatureRiseKelvin,
		&s.MixedLayerPressureHPa, &s.MixedLayerHeightMeters,
		&s.FreezingLevelPressureHPa, &s.FreezingLevelHeightMeters,
		&s.CondensationLevelPressureHPa, &s.CondensationLevelHeightMeters,
		&s.FreeConvectionLevelPressureHPa, &s.FreeConvectionLevelHeightMeters,
		&s.NeutralBuoyancyLevelPressureHPa, &s.NeutralBuoyancyLevelHeightMeters,
		&s.LiftedIndexKelvin, &s.ShowalterIndexKelvin, &s.KIndexCelsius, &s.TotalTotalsIndexKelvin,
		&s.AvailableEnergyJoulesAKilogram, &s.InhibitionJoulesAKilogram,
	}
}

// Pressures in Pa; water in 1/100 mm; the inversion's temperature difference in
// 0.1 K; the rest in whole units. From memory.
var derivedHeaderDivisors = [20]float64{100, 100, 1, 10, 100, 1, 100, 1, 100, 1, 100, 1, 100, 1, 1, 1, 1, 1, 1, 1}

// columns are the level columns in the order of derivedLevelFields.
func (s *DerivedSounding) columns() [19]*Column {
	return [19]*Column{
		&s.PressureHPa, &s.ReportedHeightGpm, &s.CalculatedHeightGpm,
		&s.TemperatureKelvin, &s.TemperatureGradient,
		&s.PotentialTemperatureKelvin, &s.PotentialTemperatureGradient,
		&s.VirtualTemperatureKelvin, &s.VirtualPotentialKelvin,
		&s.VapourPressureHPa, &s.SaturationVapourPressureHPa,
		&s.ReportedHumidityPercent, &s.CalculatedHumidityPercent, &s.HumidityGradient,
		&s.EastwardWindMetersASecond, &s.EastwardWindGradient,
		&s.NorthwardWindMetersASecond, &s.NorthwardWindGradient,
		&s.RefractivityNUnits,
	}
}

var derivedLevelDivisors = [19]float64{100, 1, 1, 10, 10, 10, 10, 10, 10, 1000, 1000, 10, 10, 10, 10, 10, 10, 10, 1}
