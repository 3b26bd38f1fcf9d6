package examine

import (
	"sort"

	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// SizeRow says how often a fault of some size is found, whether it matters or not.
type SizeRow struct {
	Fault string      `json:"fault"`
	Unit  string      `json:"unit"`
	Sizes []SizeShare `json:"sizes"`
	// From is the smallest size examined from which on at least 95 % are found; null
	// where that is not so even at the largest.
	From sounding.Number `json:"found_from"`
}

// SizeShare is one size of a fault.
type SizeShare struct {
	Size    float64 `json:"size"`
	Flights int     `json:"flights"`
	Found   int     `json:"found"`
	Harmed  int     `json:"mattered"`
}

const wantFound = 0.95

// sized tells whether a fault comes in sizes.
func sized(f *truth.FaultInfo) bool {
	switch f.Unit {
	case "1", "factor":
		return false
	}
	switch f.Name {
	case "humidity-icing", "humidity-sensor-failed", "humidity-clamped", "truncated-file", "date-wrong", "local-time-as-UTC", "early-burst", "earlier-flight-in-file":
		return false // a state or a place, not an amount
	}
	return true
}

// sizes makes the table of results whose case gives a size, in order of fault and size.
func sizes(results []Result) []SizeRow {
	rows := map[string]map[float64]*SizeShare{}
	for i := range results {
		x := &results[i]
		if x.Case.Size == 0 {
			continue
		}
		if rows[x.Case.Fault] == nil {
			rows[x.Case.Fault] = map[float64]*SizeShare{}
		}
		s := rows[x.Case.Fault][x.Case.Size]
		if s == nil {
			s = &SizeShare{Size: x.Case.Size}
			rows[x.Case.Fault][x.Case.Size] = s
		}
		s.Flights++
		for _, d := range x.Faults {
			if d.Found || x.Verdict == sounding.Refuse {
				s.Found++
			}
			if d.Mattered {
				s.Harmed++
			}
			break
		}
	}
	out := []SizeRow{}
	for _, f := range truth.Faults() {
		if rows[f.Name] == nil {
			continue
		}
		row := SizeRow{Fault: f.Name, Unit: f.Unit, From: sounding.NotSet}
		for _, s := range rows[f.Name] {
			row.Sizes = append(row.Sizes, *s)
		}
		sort.Slice(row.Sizes, func(i, j int) bool { return row.Sizes[i].Size < row.Sizes[j].Size })
		for i := len(row.Sizes) - 1; i >= 0; i-- {
			if s := row.Sizes[i]; float64(s.Found) < wantFound*float64(s.Flights) {
				break
			}
			row.From = sounding.Number(row.Sizes[i].Size)
		}
		out = append(out, row)
	}
	return out
}
