package ingest

import (
	"math"

	"leadline/internal/bufr"
	"leadline/internal/sounding"
)

// qualityExtras returns the quality information a message carries about its levels, one
// extra column for each kind and element: per cent confidence and other values behind
// bitmaps, and associated fields. They are kept beside the values and judge nothing.
func qualityExtras(s bufr.Subset, levels bufr.Table) []sounding.Extra {
	fields := levels.Fields()
	carries := false
	for i := range fields {
		carries = carries || fields[i].Kind == bufr.Associated
	}
	if !carries {
		if _, ok := s.Find(bufr.FXY(0, 31, 31), 0); !ok && !hasBitmap(s) {
			return nil
		}
	}
	first, width, rows := levels.First(), len(fields), levels.Rows()
	type key struct {
		kind   string
		column int
	}
	var order []key
	columns := map[key][]float64{}
	for it := range s.Items() {
		if it.Target < first || it.Missing {
			continue
		}
		at := it.Target - first
		row, col := at/width, at%width
		if row >= rows {
			continue
		}
		kind := "confidence"
		switch {
		case it.Field.Kind == bufr.Associated:
			kind = "associated"
		case it.Field.Descriptor != bufr.FXY(0, 33, 7):
			kind = "quality_" + it.Field.Descriptor.String()
		}
		k := key{kind, col}
		c := columns[k]
		if c == nil {
			c = make([]float64, rows)
			for i := range c {
				c[i] = math.NaN()
			}
			columns[k] = c
			order = append(order, k)
		}
		if it.Field.Kind == bufr.Number {
			c[row] = it.Value()
		} else {
			c[row] = float64(it.Raw)
		}
	}
	var out []sounding.Extra
	for _, k := range order {
		unit := "1"
		if k.kind == "confidence" {
			unit = "%"
		}
		out = append(out, sounding.Extra{Name: k.kind + "_" + extraName(fields[k.column].Descriptor), Unit: unit, Values: columns[k]})
	}
	return out
}

// hasBitmap tells whether the message has quality information behind a bitmap.
func hasBitmap(s bufr.Subset) bool {
	for _, t := range s.Tables() {
		if t.Column(bufr.FXY(0, 31, 31), 0) >= 0 {
			return true
		}
	}
	return false
}

// extraName is the part of an extra's name that says which element it is about.
func extraName(d bufr.Descriptor) string {
	switch d {
	case ePressure:
		return "pressure"
	case eGeopotentialHeight, eHeightCoordinate, eGeopotential, eHeight:
		return "geopotential_height"
	case eTemperature, eTemperatureCoarse:
		return "temperature"
	case eDewPoint, eDewPointCoarse:
		return "dew_point"
	case eHumidity, eHumidityCoarse:
		return "humidity"
	case eDirection:
		return "wind_direction"
	case eSpeed:
		return "wind_speed"
	case eSignificance, eOldSignificance:
		return "vertical_significance"
	case eSince:
		return "time"
	case eLatitudeShift:
		return "latitude"
	case eLongitudeShift:
		return "longitude"
	}
	return d.String()
}
