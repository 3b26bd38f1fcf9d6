package suggest

import (
	"fmt"
	"math"
	"strconv"
)

// Prices of a hypothesis: −2 ln of how often such an error is met, against none. Our
// proposal, in the order of how often practice meets them (the usual suspects): a price
// of 6 is one record in twenty, 8 one in fifty, 10 one in 150, 13 one in 700.
const (
	priceUnit      = 6.0
	priceDigit     = 8.0  // one figure off by one, two neighbours exchanged, a decimal place, a sign
	priceOther     = 10.0 // one figure off by more, left out or doubled
	priceUnknown   = 13.0 // any other value
	priceOffset    = 8.0  // of a barometer: the sheet says how much is usual
	priceDrift     = 11.0
	priceThermal   = 9.0
	priceReceiver  = 17.0 // satellite height off by any constant
	priceDeclared  = 6.0
	priceTogether  = 7.0 // local time, date: several instants by one rule
	priceString    = 9.0
	priceWind      = 9.0
	priceElsewhere = 13.0
)

// typed is what may have been meant by a number that was typed.
type typed struct {
	value float64
	words string
	price float64
}

// mistyped lists the numbers one slip of the hand away from x, as it is shown with up
// to two decimals: a figure off, two neighbours exchanged, the decimal point moved, a
// figure left out or doubled, the sign lost.
func mistyped(x float64) []typed {
	if math.IsNaN(x) || math.Abs(x) > 1e7 {
		return nil
	}
	decimals := 0
	for decimals < 2 && math.Abs(math.Round(x*math.Pow(10, float64(decimals)))/math.Pow(10, float64(decimals))-x) > 1e-6*math.Max(1, math.Abs(x)) {
		decimals++
	}
	text := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	sign := 1.0
	if x < 0 {
		sign = -1
	}
	var out []typed
	seen := map[string]bool{text: true}
	add := func(s, words string, price float64) {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || seen[s] {
			return
		}
		seen[s] = true
		out = append(out, typed{sign * v, words, price})
	}
	digit := func(i int) bool { return text[i] >= '0' && text[i] <= '9' }
	shown := strconv.FormatFloat(x, 'f', decimals, 64)
	for i := range text {
		if !digit(i) {
			continue
		}
		for d := byte('0'); d <= '9'; d++ {
			price := priceOther
			if off := int(d) - int(text[i]); off == 1 || off == -1 {
				price = priceDigit
			}
			add(text[:i]+string(d)+text[i+1:], "one figure of "+shown+" is off", price)
		}
		j := i + 1
		if j < len(text) && text[j] == '.' {
			j++
		}
		if j < len(text) && digit(j) {
			b := []byte(text)
			b[i], b[j] = b[j], b[i]
			add(string(b), "two figures of "+shown+" are exchanged", priceDigit)
		}
		add(text[:i]+text[i:i+1]+text[i:], "a figure of "+shown+" was left out", priceOther)
		add(text[:i]+text[i+1:], "a figure of "+shown+" was doubled", priceOther)
	}
	for _, step := range []float64{1, 10, 100} { // with a figure carried: 998 for 1008
		for _, v := range []float64{math.Abs(x) - step, math.Abs(x) + step} {
			if v >= 0 {
				add(strconv.FormatFloat(v, 'f', decimals, 64), shown+" is off by "+decimal(step, 0), priceDigit)
			}
		}
	}
	for _, factor := range []float64{0.1, 10, 100, 0.01} {
		add(strconv.FormatFloat(math.Abs(x)*factor, 'f', decimals+2, 64), "the decimal point of "+shown+" is misplaced", priceDigit)
	}
	if x != 0 {
		out = append(out, typed{-x, "the sign of " + shown + " is wrong", priceDigit})
	}
	return out
}

// decimal writes a number with at most so many decimals and no trailing zeros.
func decimal(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if decimals > 0 {
		for s[len(s)-1] == '0' {
			s = s[:len(s)-1]
		}
		if s[len(s)-1] == '.' {
			s = s[:len(s)-1]
		}
	}
	if s == "-0" {
		s = "0"
	}
	return s
}

func celsius(k float64) string { return fmt.Sprintf("%.1f °C", k-273.15) }
