// Package earth holds the shape and gravity of the Earth (WGS-84), the
// conversions between the three kinds of height, geodesics, the local metric in
// which positions become displacements, wind from components and back, and the
// US Standard Atmosphere 1976.
//
// Three kinds of height, three names: metres above the ellipsoid (what a GNSS
// receiver measures), metres above mean sea level, and geopotential metres
// (gpm). No geoid model ships with this package: the step from the ellipsoid to
// mean sea level needs the geoid undulation, which the caller must supply
// (HeightAboveSeaLevel). All angles are degrees, north and east positive.
//
// A NaN in any argument gives NaN results unless a function says otherwise.
package earth

import "leadline/internal/constants"

// The constants other packages meet most often together with heights; they are
// defined once, in package constants.
const (
	ConstantsVersion = constants.Version
	G0               = constants.G0
	Rd               = constants.Rd
)

// The WGS-84 ellipsoid and its normal gravity field (NIMA TR8350.2, 3rd ed.,
// tables 3.1, 3.3 and 3.4).
const (
	SemiMajorAxis = 6378137.0         // a, m
	Flattening    = 1 / 298.257223563 // f
	SemiMinorAxis = SemiMajorAxis * (1 - Flattening)
	// EccentricitySquared is the first eccentricity squared, e².
	EccentricitySquared = Flattening * (2 - Flattening)

	gravityEquator   = 9.7803253359     // γe, m s⁻²
	somigliana       = 0.00193185265241 // k
	centrifugalRatio = 0.00344978650684 // m = ω²a²b/GM
)
