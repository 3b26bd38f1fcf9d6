package earth

import "math"

const degree = math.Pi / 180

// Gravity returns normal gravity in m s⁻² at a geodetic latitude in degrees and
// a height in metres above the WGS-84 ellipsoid: Somigliana's closed formula on
// the ellipsoid and the second-order expansion in height (Heiskanen and Moritz
// 1967, eq. 2-123), within 1.1e-5 m s⁻² of the closed form up to 40 km.
func Gravity(latitude, heightEllipsoid float64) float64 {
	s := math.Sin(latitude * degree)
	s *= s
	q := heightEllipsoid / SemiMajorAxis
	return surfaceGravity(s) * (1 - 2*(1+Flattening+centrifugalRatio-2*Flattening*s)*q + 3*q*q)
}

// surfaceGravity is Somigliana's formula; s is the squared sine of the latitude.
func surfaceGravity(s float64) float64 {
	return gravityEquator * (1 + somigliana*s) / math.Sqrt(1-EccentricitySquared*s)
}

// gravityRadius is the radius R that makes γ0 R²/(R+Z)² match the free-air
// gradient at the latitude whose squared sine is s.
func gravityRadius(s float64) float64 {
	return SemiMajorAxis / (1 + Flattening + centrifugalRatio - 2*Flattening*s)
}

// GeopotentialHeight returns the geopotential height in gpm of a point z metres
// above mean sea level at a geodetic latitude in degrees:
// H = (γ0/g0) R Z/(R + Z), with γ0 and R of that latitude (WMO-No. 8, volume I,
// chapter 12; same structure in the US Standard Atmosphere 1976).
// Within 0.02 gpm of the closed form of the normal potential up to 40 km.
func GeopotentialHeight(heightSeaLevel, latitude float64) float64 {
	return HeightScaleAt(latitude).Geopotential(heightSeaLevel)
}

// GeometricHeight is the inverse of GeopotentialHeight: metres above mean sea
// level of a geopotential height in gpm.
func GeometricHeight(geopotential, latitude float64) float64 {
	return HeightScaleAt(latitude).Geometric(geopotential)
}

// HeightScale converts heights at one latitude; build it once for a loop over
// samples that stay near that latitude (0.1° of latitude changes 30 km by about
// 0.3 gpm).
type HeightScale struct {
	ratio  float64 // γ0/g0
	radius float64 // R, m
}

// HeightScaleAt returns the scale of a geodetic latitude in degrees.
func HeightScaleAt(latitude float64) HeightScale {
	s := math.Sin(latitude * degree)
	s *= s
	return HeightScale{ratio: surfaceGravity(s) / G0, radius: gravityRadius(s)}
}

// Geopotential returns the geopotential height in gpm of z metres above mean sea level.
func (h HeightScale) Geopotential(z float64) float64 {
	return h.ratio * h.radius * z / (h.radius + z)
}

// Geometric returns the metres above mean sea level of a geopotential height in gpm.
func (h HeightScale) Geometric(gpm float64) float64 {
	return h.radius * gpm / (h.ratio*h.radius - gpm)
}

// HeightAboveSeaLevel returns metres above mean sea level from metres above the
// WGS-84 ellipsoid and the geoid undulation N in metres at the same point (the
// height of the geoid above the ellipsoid, −106 to +85 m on Earth). The
// undulation must come from the caller: this package holds no geoid model. NaN
// for an unknown undulation gives NaN, never a height that silently keeps the
// wrong datum.
func HeightAboveSeaLevel(heightEllipsoid, undulation float64) float64 {
	return heightEllipsoid - undulation
}

// HeightAboveEllipsoid is the inverse of HeightAboveSeaLevel.
func HeightAboveEllipsoid(heightSeaLevel, undulation float64) float64 {
	return heightSeaLevel + undulation
}

// GravityBarometry returns gravity at sea level in m s⁻² by the formula that
// barometer tables are reduced with (WMO-No. 8, volume I, annex on barometers;
// from memory). It belongs to old records; use Gravity for new work.
func GravityBarometry(latitude float64) float64 {
	return cosineGravity(latitude, 9.80620, 0.0026442, 0.0000058)
}

// GravitySmithsonian returns gravity at sea level in m s⁻² by the formula of the
// Smithsonian Meteorological Tables (List 1951, table 167; coefficients partly
// from memory), which older heights were computed with.
func GravitySmithsonian(latitude float64) float64 {
	return cosineGravity(latitude, 9.80616, 0.0026373, 0.0000059)
}

func cosineGravity(latitude, middle, first, second float64) float64 {
	_, cos := SinCosDegrees(2 * latitude)
	return middle * (1 - first*cos + second*cos*cos)
}
