package suggest

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

// position: a sign of the site's position is wrong, the two are exchanged, minutes
// stand as decimals, or a figure is off.
func (f *facts) position(w *world) []hypothesis {
	la, lo := w.record.Site.Latitude.Value(), w.record.Site.Longitude.Value()
	if math.IsNaN(la + lo + f.latitude + f.longitude) {
		return nil
	}
	var out []hypothesis
	add := func(name string, lat, lon, price float64, words string) {
		if math.Abs(lat) > 90 || math.Abs(lon) > 180 {
			return
		}
		var d []sounding.Decision
		if lat != la {
			d = append(d, correct("site.latitude_deg", decimal(lat, 6), words))
		}
		if lon != lo {
			d = append(d, correct("site.longitude_deg", decimal(lon, 6), words))
		}
		out = append(out, hypothesis{name: name, price: price, decisions: d,
			sentence: fmt.Sprintf("the site is given at %s°, %s° and the radiosonde stood at %.4f°, %.4f° before release; %s: %s°, %s° fits",
				decimal(la, 5), decimal(lo, 5), f.latitude, f.longitude, words, decimal(lat, 5), decimal(lon, 5)),
			change: func(w *world) {
				w.record.Site.Latitude, w.record.Site.Longitude = sounding.Number(lat), sounding.Number(lon)
			}})
	}
	add(LongitudeSign, la, -lo, priceUnit, "the sign of the longitude is wrong")
	add(LatitudeSign, -la, lo, priceUnit, "the sign of the latitude is wrong")
	add(PositionWrong, -la, -lo, priceDigit, "both signs are wrong")
	add(PositionWrong, lo, la, priceDigit, "latitude and longitude are exchanged")
	if lo > 180 {
		add(PositionWrong, la, lo-360, priceUnit, "the longitude counts from 0 to 360°")
	}
	decimals := func(x float64) float64 { // 46.125 written for 46° 12.5'
		whole := math.Trunc(x)
		return round(whole+(x-whole)*100/60, 5)
	}
	add(PositionWrong, decimals(la), lo, priceOther, "minutes of the latitude stand as decimals")
	add(PositionWrong, la, decimals(lo), priceOther, "minutes of the longitude stand as decimals")
	add(PositionWrong, decimals(la), decimals(lo), priceDigit, "minutes of latitude and longitude stand as decimals")
	for _, step := range []float64{-100, -10, -1, -0.1, 0.1, 1, 10, 100} {
		words := fmt.Sprintf("is off by one figure (%s°)", decimal(math.Abs(step), 1))
		add(PositionWrong, round(la+step, 6), lo, priceDigit, "the latitude "+words)
		add(PositionWrong, la, round(lo+step, 6), priceDigit, "the longitude "+words)
	}
	add(PositionWrong, round(f.latitude, 5), round(f.longitude, 5), priceElsewhere, "it belongs to another place, and the satellites tell where")
	return out
}
