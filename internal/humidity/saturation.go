package humidity

import (
	"math"

	"leadline/internal/constants"
)

// Each function below returns ln(e/hPa) and d ln e/dT in K⁻¹ at T in K. The
// published forms give Pa or hPa and natural or decimal logarithms; the constants
// are brought to ln hPa by the offset in the last term.

const (
	lnHundred = 2 * math.Ln10
)

// Hyland and Wexler 1983, eq. 17 (liquid), result in Pa.
func hylandWexlerWater(t float64) (ln, slope float64) {
	ln = -5800.2206/t + 1.3914993 - lnHundred +
		t*(-0.048640239+t*(4.1764768e-5-t*1.4452093e-8)) + 6.5459673*math.Log(t)
	slope = (5800.2206/t+6.5459673)/t - 0.048640239 + t*(2*4.1764768e-5-t*3*1.4452093e-8)
	return ln, slope
}

// Hyland and Wexler 1983, eq. 18 (ice), result in Pa.
func hylandWexlerIce(t float64) (ln, slope float64) {
	ln = -5674.5359/t + 6.3925247 - lnHundred +
		t*(-9.677843e-3+t*(6.2215701e-7+t*(2.0747825e-9-t*9.484024e-13))) + 4.1635019*math.Log(t)
	slope = (5674.5359/t+4.1635019)/t - 9.677843e-3 +
		t*(2*6.2215701e-7+t*(3*2.0747825e-9-t*4*9.484024e-13))
	return ln, slope
}

// Sonntag 1990, eq. 7 (liquid), result in Pa.
func sonntagWater(t float64) (ln, slope float64) {
	ln = -6096.9385/t + 21.2409642 - lnHundred + t*(-2.711193e-2+t*1.673952e-5) + 2.433502*math.Log(t)
	slope = (6096.9385/t+2.433502)/t - 2.711193e-2 + t*2*1.673952e-5
	return ln, slope
}

// Sonntag 1990, eq. 8 (ice), result in Pa; coefficients from memory, the same
// in several independent public programs.
func sonntagIce(t float64) (ln, slope float64) {
	ln = -6024.5282/t + 29.32707 - lnHundred + t*(1.0613868e-2-t*1.3198825e-5) - 0.49382577*math.Log(t)
	slope = (6024.5282/t-0.49382577)/t + 1.0613868e-2 - t*2*1.3198825e-5
	return ln, slope
}

// Murphy and Koop 2005, eq. 10 (liquid and supercooled), result in Pa.
func murphyKoopWater(t float64) (ln, slope float64) {
	lnT := math.Log(t)
	// tanh from one exponential: 1 − 2/(e^{2y}+1)
	step := 1 - 2/(math.Exp(0.083*(t-218.8))+1)
	cold := 53.878 - 1331.22/t - 9.44523*lnT + 0.014025*t
	ln = 54.842763 - lnHundred - 6763.22/t - 4.210*lnT + 0.000367*t + step*cold
	slope = (6763.22/t-4.210)/t + 0.000367 +
		0.0415*(1-step*step)*cold + step*((1331.22/t-9.44523)/t+0.014025)
	return ln, slope
}

// Murphy and Koop 2005, eq. 7 (ice), result in Pa.
func murphyKoopIce(t float64) (ln, slope float64) {
	ln = 9.550426 - lnHundred - 5723.265/t + 3.53068*math.Log(t) - 0.00728332*t
	slope = (5723.265/t+3.53068)/t - 0.00728332
	return ln, slope
}

// Goff and Gratch 1946 (liquid, Smithsonian form), result in hPa.
func goffGratchWater(t float64) (ln, slope float64) {
	const (
		steam = 373.16
		a     = 1.3816e-7
		b     = 8.1328e-3
	)
	x := steam / t
	warm := math.Exp(11.344 * math.Ln10 * (1 - t/steam))
	cold := math.Exp(-3.49149 * math.Ln10 * (x - 1))
	ln = math.Ln10*(-7.90298*(x-1)-a*(warm-1)+b*(cold-1)) + 5.02808*math.Log(x) + lnSteam
	slope = math.Ln10*7.90298*x/t - 5.02808/t +
		math.Ln10*math.Ln10*(a*warm*11.344/steam+b*cold*3.49149*x/t)
	return ln, slope
}

var lnSteam = math.Log(1013.246)

// Goff and Gratch 1946 (ice, Smithsonian form), result in hPa; from memory, the
// same in several independent public programs.
func goffGratchIce(t float64) (ln, slope float64) {
	return goffIce(t, 9.09718, 0.876793, lnIcePoint)
}

var lnIcePoint = math.Log(6.1071)

// WMO Technical Regulations after Goff 1957 (ice), result in hPa; from memory, confirmed
// only by its agreement with the other ice formulas to 0.16 % above −80 °C.
func goff1957Ice(t float64) (ln, slope float64) {
	return goffIce(t, 9.09685, 0.87682, math.Ln10*0.78614)
}

func goffIce(t, first, third, offset float64) (ln, slope float64) {
	const second = 3.56654
	x := constants.TriplePoint / t
	ln = math.Ln10*(-first*(x-1)+third*(1-t/constants.TriplePoint)) - second*math.Log(x) + offset
	slope = math.Ln10*(first*x/t-third/constants.TriplePoint) + second/t
	return ln, slope
}

// WMO Technical Regulations after Goff 1957 (liquid), result in hPa. One printing
// carries a wrong sign in the fourth term; this is the form with +4.76955.
func goff1957Water(t float64) (ln, slope float64) {
	const (
		t0 = constants.TriplePoint
		a  = 1.50475e-4
		b  = 0.42873e-3
	)
	x, y := t0/t, t/t0
	warm := math.Exp(-8.2969 * math.Ln10 * (y - 1))
	cold := math.Exp(4.76955 * math.Ln10 * (1 - x))
	ln = math.Ln10*(10.79574*(1-x)+a*(1-warm)+b*(cold-1)+0.78614) - 5.028*math.Log(y)
	slope = math.Ln10*10.79574*x/t - 5.028/t +
		math.Ln10*math.Ln10*(a*warm*8.2969/t0+b*cold*4.76955*x/t)
	return ln, slope
}

// WMO-No. 8, volume I, annex 4.B (liquid), result in hPa.
func magnusWater(t float64) (ln, slope float64) { return magnus(t, 17.62, 243.12) }

// WMO-No. 8, volume I, annex 4.B (ice), result in hPa; coefficients from memory, the
// same in several independent public programs.
func magnusIce(t float64) (ln, slope float64) { return magnus(t, 22.46, 272.62) }

// Bolton 1980, eq. 10, result in hPa.
func boltonWater(t float64) (ln, slope float64) { return magnus(t, 17.67, 243.5) }

func magnus(t, a, b float64) (ln, slope float64) {
	c := t - constants.ZeroCelsius
	d := 1 / (b + c)
	return lnMagnus + a*c*d, a * b * d * d
}

// lnMagnus is ln 6.112, the vapour pressure at 0 °C all three Magnus forms share.
var lnMagnus = math.Log(6.112)

// IAPWS SR1-86 (1992), eq. 1 (liquid), result in MPa; coefficients from memory.
func iapwsWater(t float64) (ln, slope float64) {
	const (
		critical = 647.096 // K
		a1, a2   = -7.85951783, 1.84408259
		a3, a4   = -11.7866497, 22.6807411
		a5, a6   = -15.9618719, 1.80122502
	)
	tau := 1 - t/critical
	if tau < 0 {
		return math.NaN(), math.NaN()
	}
	root := math.Sqrt(tau)
	sum := tau * (a1 + root*a2 + tau*tau*(a3+root*a4+tau*(a5+tau*tau*tau*root*a6)))
	derivative := a1 + 1.5*a2*root + tau*tau*(3*a3+3.5*a4*root+tau*(4*a5+7.5*a6*tau*tau*tau*root))
	ln = critical/t*sum + lnCritical
	slope = -critical/(t*t)*sum - derivative/t
	return ln, slope
}

var lnCritical = math.Log(22.064e4) // hPa

// IAPWS R14-08 (2011), eq. 6 (ice Ih); coefficients from memory, confirmed by the
// release's check values.
func iapwsIce(t float64) (ln, slope float64) {
	const (
		a1, a2, a3 = -21.2144006, 27.3203819, -6.1059813
		b1, b2, b3 = 0.00333333333, 1.20666667, 1.70333333
	)
	theta := t / constants.TriplePoint
	lnTheta := math.Log(theta)
	p1 := a1 * math.Exp((b1-1)*lnTheta)
	p2 := a2 * math.Exp((b2-1)*lnTheta)
	p3 := a3 * math.Exp((b3-1)*lnTheta)
	ln = p1 + p2 + p3 + lnTriple
	slope = ((b1-1)*p1 + (b2-1)*p2 + (b3-1)*p3) / t
	return ln, slope
}

var lnTriple = math.Log(constants.TriplePointPressure)
