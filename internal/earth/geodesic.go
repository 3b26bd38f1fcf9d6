package earth

import "math"

// Geodesics on the WGS-84 ellipsoid by the series of Karney 2013 (Algorithms for
// geodesics, J. Geodesy 87, 43–55), expanded to sixth order in the third
// flattening, where they are good to some nanometres. The equation numbers below
// are those of that paper. The inverse problem is solved for the azimuth at the
// first point by Newton's method kept inside a bracket, so it also converges for
// nearly antipodal points.

const (
	thirdFlattening           = Flattening / (2 - Flattening)                   // n
	secondEccentricitySquared = EccentricitySquared / (1 - EccentricitySquared) // e'²
	tiny                      = 1e-150
)

// Inverse returns the length in metres of the shortest geodesic between two
// points given in degrees, and its azimuths in degrees clockwise from north in
// [0, 360): at the first point, and at the second point (the direction in which
// the line goes on there). Points that coincide give length 0 and azimuth 0 at
// both. Latitudes beyond ±90° and NaN give NaN.
func Inverse(lat1, lon1, lat2, lon2 float64) (distance, azimuth1, azimuth2 float64) {
	if !(math.Abs(lat1) <= 90 && math.Abs(lat2) <= 90) || math.IsNaN(lon1+lon2) || math.IsInf(lon1+lon2, 0) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	lat1, lat2 = snapToEquator(lat1), snapToEquator(lat2)
	lonDiff := math.Remainder(math.Remainder(lon2, 360)-math.Remainder(lon1, 360), 360)
	if d, a1, a2, ok := shortInverse(lat1, lat2, lonDiff); ok {
		return d, a1, a2
	}
	// Turn and mirror the pair until lonDiff ≥ 0, lat1 ≤ 0 and |lat1| ≥ |lat2|.
	eastSign, northSign := 1.0, 1.0
	if lonDiff < 0 {
		eastSign, lonDiff = -1, -lonDiff
	}
	swapped := math.Abs(lat1) < math.Abs(lat2)
	if swapped {
		lat1, lat2 = lat2, lat1
	}
	if lat1 > 0 {
		northSign, lat1, lat2 = -1, -lat1, -lat2
	}
	distance, start, end := canonicalInverse(lat1, lat2, lonDiff)
	if swapped {
		// The solved line runs from the second point to the first: exchange the
		// ends; mirrored east-west by the exchange, it is walked backwards.
		start, end = end, start
		northSign = -northSign
	}
	azimuth1 = azimuthOf(start.sin*eastSign, start.cos*northSign)
	azimuth2 = azimuthOf(end.sin*eastSign, end.cos*northSign)
	return distance, azimuth1, azimuth2
}

// snapToEquator takes a latitude within 1 nm of the equator for the equator: its
// square would vanish where the azimuth is found.
func snapToEquator(lat float64) float64 {
	if math.Abs(lat) < 1e-14 {
		return 0
	}
	return lat
}

// angle is a direction or a latitude held as sine and cosine.
type angle struct{ sin, cos float64 }

func azimuthOf(sin, cos float64) float64 {
	a := math.Atan2(sin, cos) / degree
	if a < 0 {
		a += 360
	}
	if a >= 360 || a == 0 {
		return 0
	}
	return a
}

// shortInverse answers for lines below about 50 m away from the poles, where
// the metric of the middle point is exact to 1e-9 m and better conditioned for
// the azimuth than the general solution.
func shortInverse(lat1, lat2, lonDiff float64) (distance, azimuth1, azimuth2 float64, ok bool) {
	middle := 0.5 * (lat1 + lat2)
	if math.Abs(lat2-lat1) > 4e-4 || math.Abs(lonDiff) > 4e-4 || math.Abs(middle) > 85 {
		return 0, 0, 0, false
	}
	east, north := Displacement(lat1, 0, 0, lat2, lonDiff, 0)
	distance = math.Hypot(east, north)
	if distance == 0 {
		return 0, 0, 0, true
	}
	half := 0.5 * lonDiff * degree * math.Sin(middle*degree)
	a := math.Atan2(east, north)
	sin1, cos1 := math.Sincos(a - half)
	sin2, cos2 := math.Sincos(a + half)
	return distance, azimuthOf(sin1, cos1), azimuthOf(sin2, cos2), true
}

// reducedLatitude returns the reduced latitude β, tan β = (1−f) tan φ, of a
// geodetic latitude in degrees; at a pole the cosine stays just above zero so
// that an azimuth keeps its meaning there.
func reducedLatitude(lat float64) angle {
	sin, cos := SinCosDegrees(lat)
	sin *= 1 - Flattening
	r := math.Hypot(sin, cos)
	return angle{sin / r, math.Max(tiny, cos/r)}
}

// canonicalInverse solves lat1 ≤ 0, |lat1| ≥ |lat2|, 0 ≤ lonDiff ≤ 180.
func canonicalInverse(lat1, lat2, lonDiff float64) (distance float64, start, end angle) {
	beta1, beta2 := reducedLatitude(lat1), reducedLatitude(lat2)
	if lat1 == -lat2 {
		beta2 = angle{-beta1.sin, beta1.cos}
	} else if lat1 == lat2 {
		beta2 = beta1
	}
	if beta1.sin == 0 {
		beta1.sin = -tiny // a start on the equator leaves it southward side first
		beta2.sin = 0
	}
	sinLon, cosLon := SinCosDegrees(lonDiff)
	lambda := lonDiff * degree

	if lat1 == -90 || lonDiff == 0 || lonDiff == 180 {
		// Along a meridian, over the nearer pole where lonDiff is 180.
		start = angle{sinLon, cosLon}
		sigma1 := angle{beta1.sin, cosLon * beta1.cos}
		sigma2 := angle{beta2.sin, beta2.cos}
		if lat1 == -90 {
			sigma1 = angle{-1, 0}
		}
		line := newArcSeries(secondEccentricitySquared)
		arc := arcBetween(sigma1, sigma2)
		return SemiMinorAxis * line.distance(sigma1, sigma2, arc), start, angle{0, 1}
	}
	if lat1 == 0 && lambda <= (1-Flattening)*math.Pi {
		return SemiMajorAxis * lambda, angle{1, 0}, angle{1, 0}
	}

	// Start from the great circle on a sphere of the local curvature.
	mean := 0.5 * (beta1.cos + beta2.cos)
	omega := lambda / math.Sqrt(1-EccentricitySquared*mean*mean)
	if omega > math.Pi {
		omega = math.Pi
	}
	sinOmega, cosOmega := math.Sincos(omega)
	start = angle{
		beta2.cos * sinOmega,
		beta1.cos*beta2.sin - beta1.sin*beta2.cos*cosOmega,
	}
	// The azimuth is kept as sine and cosine throughout: for lines close to the
	// equator all of the answer is in a small cosine.
	trial := angle{1, 0}
	if r := math.Hypot(start.sin, start.cos); start.sin > 0 && r > 0 {
		trial = angle{start.sin / r, start.cos / r}
	}
	low, high := angle{tiny, 1}, angle{tiny, -1}
	var h hybrid
	for range 200 {
		h.solve(beta1, beta2, trial, sinLon, cosLon)
		if h.excess == 0 {
			break
		}
		if h.excess > 0 {
			high = trial
		} else {
			low = trial
		}
		turn := -h.excess / h.slope()
		sinTurn, cosTurn := math.Sincos(turn)
		next := unit(trial.sin*cosTurn+trial.cos*sinTurn, trial.cos*cosTurn-trial.sin*sinTurn)
		inside := math.Abs(turn) < math.Pi && next.sin > 0 &&
			next.cos*low.sin < low.cos*next.sin && next.cos*high.sin > high.cos*next.sin
		if !inside {
			next = unit(low.sin+high.sin, low.cos+high.cos)
			if math.Hypot(low.sin+high.sin, low.cos+high.cos) < 1e-100 {
				next = angle{1, 0}
			}
		}
		if math.Abs(next.sin-trial.sin) <= 1e-17 && math.Abs(next.cos-trial.cos) <= 1e-16*math.Abs(trial.cos) {
			break
		}
		trial = next
	}
	return SemiMinorAxis * h.line.distance(h.sigma1, h.sigma2, h.arc), h.alpha1, h.alpha2
}

// hybrid is the geodesic that leaves the first point with a trial azimuth, up to
// the latitude of the second point: the 'hybrid problem' of the paper.
type hybrid struct {
	beta1, beta2   angle
	alpha1, alpha2 angle
	sigma1, sigma2 angle
	k2, arc        float64
	line           arcSeries
	excess         float64 // its longitude difference less the wanted one, rad
}

func (h *hybrid) solve(beta1, beta2, alpha1 angle, sinLon, cosLon float64) {
	h.beta1, h.beta2 = beta1, beta2
	h.alpha1 = alpha1
	sinAlpha0 := h.alpha1.sin * beta1.cos // eq. 5
	cosAlpha0 := math.Hypot(h.alpha1.cos, h.alpha1.sin*beta1.sin)
	h.sigma1 = unit(beta1.sin, h.alpha1.cos*beta1.cos) // eq. 11
	omega1 := angle{sinAlpha0 * beta1.sin, h.alpha1.cos * beta1.cos}

	h.alpha2.sin = h.alpha1.sin
	if beta2.cos != beta1.cos {
		h.alpha2.sin = sinAlpha0 / beta2.cos
	}
	if beta2.cos != beta1.cos || math.Abs(beta2.sin) != -beta1.sin {
		// eq. 45, with the difference of squares in its better conditioned form
		difference := (beta1.sin - beta2.sin) * (beta1.sin + beta2.sin)
		if beta1.cos < -beta1.sin {
			difference = (beta2.cos - beta1.cos) * (beta1.cos + beta2.cos)
		}
		c := h.alpha1.cos * beta1.cos
		h.alpha2.cos = math.Sqrt(math.Max(0, c*c+difference)) / beta2.cos
	} else {
		h.alpha2.cos = math.Abs(h.alpha1.cos)
	}
	h.sigma2 = unit(beta2.sin, h.alpha2.cos*beta2.cos)
	omega2 := angle{sinAlpha0 * beta2.sin, h.alpha2.cos * beta2.cos}

	h.arc = arcBetween(h.sigma1, h.sigma2)
	sinOmega := math.Max(0, omega1.cos*omega2.sin-omega1.sin*omega2.cos)
	cosOmega := omega1.cos*omega2.cos + omega1.sin*omega2.sin
	if sinOmega == 0 && cosOmega == 0 {
		// Both ends on the node's meridian: the longitude turns with the arc.
		sinOmega, cosOmega = math.Sincos(h.arc)
	}
	turned := math.Atan2(sinOmega*cosLon-cosOmega*sinLon, cosOmega*cosLon+sinOmega*sinLon)
	h.k2 = secondEccentricitySquared * cosAlpha0 * cosAlpha0
	h.line = newArcSeries(h.k2)
	h.excess = turned - Flattening*sinAlpha0*h.line.longitude(h.sigma1, h.sigma2, h.arc)
}

// slope returns dλ12/dα1 (eq. 46).
func (h *hybrid) slope() float64 {
	if h.alpha2.cos == 0 {
		return -2 * math.Sqrt(1+h.k2*h.beta1.sin*h.beta1.sin) / h.beta1.sin
	}
	return h.line.reducedLength(h.k2, h.sigma1, h.sigma2, h.arc) / (h.alpha2.cos * h.beta2.cos)
}

func unit(sin, cos float64) angle {
	r := math.Hypot(sin, cos)
	return angle{sin / r, cos / r}
}

// arcBetween returns the arc from one spherical position to another, in [0, π].
func arcBetween(a, b angle) float64 {
	return math.Atan2(math.Max(0, a.cos*b.sin-a.sin*b.cos), a.cos*b.cos+a.sin*b.sin)
}

// arcSeries holds the expansion parameter ε of one geodesic (eq. 16).
type arcSeries struct{ eps float64 }

func newArcSeries(k2 float64) arcSeries {
	return arcSeries{k2 / (2*(1+math.Sqrt(1+k2)) + k2)}
}

// sineSum is Σ c[l−1] sin 2lσ by Clenshaw's recurrence.
func sineSum(s angle, c *[6]float64) float64 {
	x := 2 * (s.cos - s.sin) * (s.cos + s.sin) // 2 cos 2σ
	var b0, b1 float64
	for l := 5; l >= 0; l-- {
		b0, b1 = x*b0-b1+c[l], b0
	}
	return 2 * s.sin * s.cos * b0
}

// distance is s/b between two positions on the auxiliary sphere (eq. 7, 15).
func (a arcSeries) distance(s1, s2 angle, arc float64) float64 {
	c := a.c1()
	return a.a1() * (arc + sineSum(s2, &c) - sineSum(s1, &c))
}

// longitude is I3(σ2) − I3(σ1) (eq. 8, 23).
func (a arcSeries) longitude(s1, s2 angle, arc float64) float64 {
	c := a.c3()
	return a.a3() * (arc + sineSum(s2, &c) - sineSum(s1, &c))
}

// reducedLength is m12/b (eq. 38).
func (a arcSeries) reducedLength(k2 float64, s1, s2 angle, arc float64) float64 {
	c1, c2 := a.c1(), a.c2()
	a1, a2 := a.a1(), a.a2()
	j := (a1-a2)*arc +
		a1*(sineSum(s2, &c1)-sineSum(s1, &c1)) -
		a2*(sineSum(s2, &c2)-sineSum(s1, &c2))
	w1 := math.Sqrt(1 + k2*s1.sin*s1.sin)
	w2 := math.Sqrt(1 + k2*s2.sin*s2.sin)
	return w2*s1.cos*s2.sin - w1*s1.sin*s2.cos - s1.cos*s2.cos*j
}

func (a arcSeries) a1() float64 { // eq. 17
	e2 := a.eps * a.eps
	return (1 + e2*(1.0/4+e2*(1.0/64+e2/256))) / (1 - a.eps)
}

func (a arcSeries) c1() [6]float64 { // eq. 18
	e := a.eps
	e2 := e * e
	e3 := e2 * e
	return [6]float64{
		e * (-1.0/2 + e2*(3.0/16-e2/32)),
		e2 * (-1.0/16 + e2*(1.0/32-e2*9/2048)),
		e3 * (-1.0/48 + e2*3/256),
		e2 * e2 * (-5.0/512 + e2*3/512),
		e2 * e3 * (-7.0 / 1280),
		e3 * e3 * (-7.0 / 2048),
	}
}

func (a arcSeries) c1Reverted() [6]float64 { // eq. 21
	e := a.eps
	e2 := e * e
	e3 := e2 * e
	return [6]float64{
		e * (1.0/2 + e2*(-9.0/32+e2*205/1536)),
		e2 * (5.0/16 + e2*(-37.0/96+e2*1335/4096)),
		e3 * (29.0/96 - e2*75/128),
		e2 * e2 * (539.0/1536 - e2*2391/2560),
		e2 * e3 * (3467.0 / 7680),
		e3 * e3 * (38081.0 / 61440),
	}
}

func (a arcSeries) a2() float64 { // eq. 42
	e2 := a.eps * a.eps
	return (1 + e2*(1.0/4+e2*(9.0/64+e2*25/256))) * (1 - a.eps)
}

func (a arcSeries) c2() [6]float64 { // eq. 43
	e := a.eps
	e2 := e * e
	e3 := e2 * e
	return [6]float64{
		e * (1.0/2 + e2*(1.0/16+e2/32)),
		e2 * (3.0/16 + e2*(1.0/32+e2*35/2048)),
		e3 * (5.0/48 + e2*5/256),
		e2 * e2 * (35.0/512 + e2*7/512),
		e2 * e3 * (63.0 / 1280),
		e3 * e3 * (77.0 / 2048),
	}
}

func (a arcSeries) a3() float64 { // eq. 24
	const n = thirdFlattening
	e := a.eps
	return 1 - e*((1.0/2-n/2)+
		e*((1.0/4+n/8-3*n*n/8)+
			e*((1.0/16+3*n/16+n*n/16)+
				e*((3.0/64+n/32)+
					e*3/128))))
}

func (a arcSeries) c3() [6]float64 { // eq. 25
	const n = thirdFlattening
	e := a.eps
	e2 := e * e
	e3 := e2 * e
	return [6]float64{
		e * ((1.0/4 - n/4) + e*((1.0/8-n*n/8)+e*((3.0/64+3*n/64-n*n/64)+e*((5.0/128+n/64)+e*3/128)))),
		e2 * ((1.0/16 - 3*n/32 + n*n/32) + e*((3.0/64-n/32-3*n*n/64)+e*((3.0/128+n/128)+e*5/256))),
		e3 * ((5.0/192 - 3*n/64 + 5*n*n/192) + e*((3.0/128-5*n/192)+e*7/512)),
		e2 * e2 * ((7.0/512 - 7*n/256) + e*7/512),
		e2 * e3 * (21.0 / 2560),
		0,
	}
}

// Direct returns the point reached from a point in degrees after a distance in
// metres (negative goes backwards) along the geodesic with an azimuth in
// degrees, and the azimuth there in [0, 360). Longitude is in [−180, 180].
// A latitude beyond ±90° or a NaN gives NaN.
func Direct(lat, lon, azimuth, distance float64) (lat2, lon2, azimuth2 float64) {
	if !(math.Abs(lat) <= 90) || math.IsNaN(lon+azimuth+distance) || math.IsInf(lon+azimuth+distance, 0) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	beta1 := reducedLatitude(snapToEquator(lat))
	sin1, cos1 := SinCosDegrees(azimuth)
	sinAlpha0 := sin1 * beta1.cos
	cosAlpha0 := math.Hypot(cos1, sin1*beta1.sin)
	sigma1 := angle{0, 1}
	if beta1.sin != 0 || cos1 != 0 {
		sigma1 = unit(beta1.sin, cos1*beta1.cos)
	}
	omega1 := math.Atan2(sinAlpha0*sigma1.sin, sigma1.cos)

	line := newArcSeries(secondEccentricitySquared * cosAlpha0 * cosAlpha0)
	c1, reverted := line.c1(), line.c1Reverted()
	a1 := line.a1()
	offset := sineSum(sigma1, &c1)
	tau12 := distance / (SemiMinorAxis * a1)
	// τ2 = σ1 + offset + τ12 on the circle, then back to σ (eq. 20).
	sinTau, cosTau := math.Sincos(offset + tau12)
	tau2 := angle{sigma1.sin*cosTau + sigma1.cos*sinTau, sigma1.cos*cosTau - sigma1.sin*sinTau}
	arc := tau12 + offset + sineSum(tau2, &reverted)
	sinArc, cosArc := math.Sincos(arc)
	sigma2 := angle{sigma1.sin*cosArc + sigma1.cos*sinArc, sigma1.cos*cosArc - sigma1.sin*sinArc}

	sinBeta2 := cosAlpha0 * sigma2.sin
	cosBeta2 := math.Hypot(sinAlpha0, cosAlpha0*sigma2.cos)
	lat2 = math.Atan2(sinBeta2, (1-Flattening)*cosBeta2) / degree
	omega2 := math.Atan2(sinAlpha0*sigma2.sin, sigma2.cos)
	lambda := omega2 - omega1 - Flattening*sinAlpha0*line.longitude(sigma1, sigma2, arc)
	lon2 = math.Remainder(math.Remainder(lon, 360)+lambda/degree, 360)
	return lat2, lon2, azimuthOf(sinAlpha0, cosAlpha0*sigma2.cos)
}
