package examine

import (
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// Twin compares the merge of two humidity sensors with what else could be done with
// them, on the same rows of the same flight: rows of the ascent in air warmer than
// −70 °C on which all of them have a value that is not bad.
type Twin struct {
	Samples int
	Merged  Moments
	A, B    Moments // one sensor alone, corrected as it would be if a person chose it
	Mean    Moments // plain average of the two corrected sensors
	Raw     Moments // plain average of the two readings as received
	Alone   int     // rows on which the better sensor alone has a usable value
	Both    int     // rows on which the merge has
}

// twin runs the flight again with each of its sensors chosen; nothing where there are
// not two.
func twin(flight *truth.Flight, o *workbench.Outcome) (Twin, error) {
	var t Twin
	if o.Final.Get(sounding.HumidityA) == nil || o.Final.Get(sounding.HumidityB) == nil {
		return t, nil
	}
	var alone [2]*sounding.Final
	for k, value := range []string{"a", "b"} {
		in := o.Inputs
		in.Decisions = []sounding.Decision{{ID: "d1", Action: sounding.ActChooseSensor, Value: value, Who: "examination", Reason: "one sensor alone"}}
		other, err := workbench.Run(in)
		if err != nil {
			return t, err
		}
		alone[k] = other.Final
	}
	f := o.Final
	frames := frameOf(flight, f)
	rawA, rawB := f.Before.Values(sounding.HumidityA), f.Before.Values(sounding.HumidityB)
	usable := func(s *sounding.Series, i int) bool {
		return s.Flags[i] == quality.Good || s.Flags[i] == quality.Questionable || s.Flags[i] == quality.NotEvaluated
	}
	merged, a, b := f.Get(sounding.Humidity), alone[0].Get(sounding.Humidity), alone[1].Get(sounding.Humidity)
	ascent := f.Events.Ascent()
	rows := [2]int{}
	for i := ascent.From; i < ascent.To; i++ {
		n := frames[i]
		if n < 0 || flight.Truth.Temperature[n] <= 203.15 {
			continue
		}
		okA, okB, okM := usable(a, i), usable(b, i), usable(merged, i)
		if okA {
			rows[0]++
		}
		if okB {
			rows[1]++
		}
		if okM {
			t.Both++
		}
		if !okA || !okB || !okM || math.IsNaN(rawA[i]) || math.IsNaN(rawB[i]) {
			continue
		}
		want := flight.Truth.Humidity[n]
		t.Samples++
		t.Merged.add(merged.Values[i] - want)
		t.A.add(a.Values[i] - want)
		t.B.add(b.Values[i] - want)
		t.Mean.add((a.Values[i]+b.Values[i])/2 - want)
		t.Raw.add((rawA[i]+rawB[i])/2 - want)
	}
	t.Alone = rows[0]
	if t.B.RMS() < t.A.RMS() {
		t.Alone = rows[1]
	}
	return t, nil
}

// better returns the moments of the sensor that was nearer to the truth on this flight,
// which nobody could have known.
func (t *Twin) better() Moments {
	if t.B.RMS() < t.A.RMS() {
		return t.B
	}
	return t.A
}

// TwinRow sums up the comparison over all clean flights with two sensors.
type TwinRow struct {
	Flights   int             `json:"flights"`
	Samples   int             `json:"samples"`
	Merged    sounding.Number `json:"merged_rms_pct"`
	Better    sounding.Number `json:"better_single_rms_pct"`
	Mean      sounding.Number `json:"mean_of_corrected_rms_pct"`
	Raw       sounding.Number `json:"mean_of_raw_rms_pct"`
	Wins      int             `json:"flights_merge_beats_better_single"`
	RowsAlone int             `json:"rows_better_single"`
	RowsBoth  int             `json:"rows_merged"`
}

func twins(results []Result) TwinRow {
	var row TwinRow
	var merged, better, mean, raw Moments
	for i := range results {
		t := &results[i].Twin
		if t.Samples == 0 {
			continue
		}
		row.Flights++
		row.Samples += t.Samples
		merged.merge(t.Merged)
		better.merge(t.better())
		mean.merge(t.Mean)
		raw.merge(t.Raw)
		row.RowsAlone += t.Alone
		row.RowsBoth += t.Both
		if t.better().RMS() > t.Merged.RMS() {
			row.Wins++
		}
	}
	row.Merged, row.Better, row.Mean, row.Raw = sounding.Number(merged.RMS()), sounding.Number(better.RMS()), sounding.Number(mean.RMS()), sounding.Number(raw.RMS())
	return row
}

// Layer is the effective resolution of a variable in one layer of one flight.
type Layer struct {
	Variable sounding.Variable
	Band     string
	Seconds  []float64
	Metres   []float64
}

// layersOf reads the effective resolution that the steps state, at a tenth of the rows.
func layersOf(flight *truth.Flight, f *sounding.Final) []Layer {
	frames := frameOf(flight, f)
	ascent := f.Events.Ascent()
	var out []Layer
	for _, v := range []sounding.Variable{sounding.Temperature, sounding.Humidity, sounding.WindU} {
		var resolution []float64
		for _, s := range f.Steps {
			if s.Variable == v && s.Resolution != nil {
				resolution = s.Resolution
			}
		}
		if resolution == nil {
			continue
		}
		for _, b := range byHeight {
			l := Layer{Variable: v, Band: b.name}
			for i := ascent.From; i < ascent.To; i += 10 {
				n := frames[i]
				if n < 0 || !b.in(&flight.Truth, n) || !(resolution[i] > 0) {
					continue
				}
				l.Seconds = append(l.Seconds, resolution[i])
				l.Metres = append(l.Metres, resolution[i]*math.Abs(flight.Truth.AscentRate[n]))
			}
			out = append(out, l)
		}
	}
	return out
}

// ResolutionRow is the median effective resolution of a variable in one layer.
type ResolutionRow struct {
	Variable sounding.Variable `json:"variable"`
	Band     string            `json:"band"`
	Seconds  sounding.Number   `json:"median_s"`
	Metres   sounding.Number   `json:"median_m"`
}

func resolutions(results []Result) []ResolutionRow {
	type key struct {
		v    sounding.Variable
		band string
	}
	seconds, metres := map[key][]float64{}, map[key][]float64{}
	var order []key
	for i := range results {
		for _, l := range results[i].Layers {
			k := key{l.Variable, l.Band}
			if _, known := seconds[k]; !known {
				order = append(order, k)
			}
			seconds[k] = append(seconds[k], l.Seconds...)
			metres[k] = append(metres[k], l.Metres...)
		}
	}
	out := []ResolutionRow{}
	for _, k := range order {
		if len(seconds[k]) > 0 {
			out = append(out, ResolutionRow{k.v, k.band, quantile(seconds[k], 0.5), quantile(metres[k], 0.5)})
		}
	}
	return out
}
