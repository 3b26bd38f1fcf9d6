package ingest

import (
	"math"
)

// cloudCode returns the cloud group NhCLhCMCH of section 8 of FM 35 from the cloud
// elements of a report (3 02 049); "" where nothing of it is given. Code table 0 20 012:
// 30 + CL, 20 + CM, 10 + CH; 60, 61, 62 the high, middle, low clouds not visible, 59 none.
func cloudCode(h *reportHead) string {
	if !h.has(eCloudAmount) && !h.has(eCloudType) {
		return ""
	}
	code := []byte("/////")
	if v := h.number(eCloudAmount); v >= 0 && v <= 9 {
		code[0] = '0' + byte(v)
	}
	if v := h.number(eCloudBase); !math.IsNaN(v) {
		code[2] = '0' + byte(cloudBaseFigure(v))
	}
	for i := range 3 {
		v := h.s.Number(eCloudType, i)
		switch {
		case v >= 30 && v <= 39:
			code[1] = '0' + byte(v-30)
		case v >= 20 && v <= 29:
			code[3] = '0' + byte(v-20)
		case v >= 10 && v <= 19:
			code[4] = '0' + byte(v-10)
		}
	}
	if string(code) == "/////" {
		return ""
	}
	return string(code)
}

// cloudBases are the lower limits, in m, of the figures of h in FM 35 (code table 1600;
// from memory of the WMO Manual on Codes, volume I.1).
var cloudBases = [10]float64{0, 50, 100, 200, 300, 600, 1000, 1500, 2000, 2500}

func cloudBaseFigure(meters float64) int {
	figure := 0
	for i, lower := range cloudBases {
		if meters >= lower {
			figure = i
		}
	}
	return figure
}

// CloudBase returns the lower limit, in m, of figure h of FM 35 (code table 1600).
func CloudBase(figure byte) float64 {
	if figure < '0' || figure > '9' {
		return math.NaN()
	}
	return cloudBases[figure-'0']
}
