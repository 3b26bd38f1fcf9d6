package workbench

import (
	"math"
	"strconv"
	"strings"
	"time"

	"leadline/internal/sounding"
)

// itemUnits are the units in which a person reads and types numbers of the launch
// record, by the ending of their path.
var itemUnits = map[string]string{"deg": "°", "m_msl": "m", "m": "m", "hpa": "hPa", "k": "°C", "pct": "%", "m_s": "m/s", "mhz": "MHz", "kg": "kg"}

// ItemUnit returns the unit of ItemText for a number of the launch record: °C for what
// the record holds in K, "" for a number without unit and for what is no number.
func ItemUnit(f sounding.RecordField) string {
	if f.Number == nil {
		return ""
	}
	best := ""
	for ending := range itemUnits {
		if strings.HasSuffix(f.Path, "_"+ending) && len(ending) > len(best) {
			best = ending
		}
	}
	return itemUnits[best]
}

// ItemText returns an item of a launch record as a person reads it, a number in
// ItemUnit and an instant by RFC 3339; "" where it is not given or r is nil.
func ItemText(f sounding.RecordField, r *sounding.LaunchRecord) string {
	switch {
	case r == nil:
	case f.Number != nil:
		if n := *f.Number(r); n.Set() {
			x := n.Value()
			if ItemUnit(f) == "°C" {
				x -= 273.15 // exact: ITS-90, Preston-Thomas 1990
			}
			return strconv.FormatFloat(math.Round(x*1e9)/1e9, 'g', -1, 64)
		}
	case f.Text != nil:
		return *f.Text(r)
	case f.Instant != nil:
		if t := *f.Instant(r); !t.IsZero() {
			return t.UTC().Format(time.RFC3339Nano)
		}
	}
	return ""
}
