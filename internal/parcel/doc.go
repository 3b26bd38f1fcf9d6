// Package parcel computes what rising and sinking parcels of air do, and the
// quantities forecasters read off a profile: condensation levels, adiabats, convective
// energy, stability indices, shear and helicity, precipitable water, inversions,
// boundary-layer height, ducts, static stability.
//
// It works on plain columns: one value a level, pressure in hPa falling from level to
// level, temperature in K, vapour pressure in hPa, height in m, wind in m s⁻¹. Columns
// hold no missing values; NaN in gives NaN out. Which samples are good enough, and what
// is refused, is decided above this package.
//
// Conventions that hold throughout: dry adiabats with κ = 2/7; saturation over liquid
// water at every temperature, by a formula the caller names; one latent heat, that of
// 0 °C, on pseudo-adiabats. Each result's page in docs/methods says what that costs.
package parcel
