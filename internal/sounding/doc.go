// Package sounding holds the words of the job: a flight with its source rows, its
// launch record and instrument sheet, the stages its columns pass through (Raw,
// Checked, Corrected, Final), and what is said about them (findings, decisions,
// steps, verdict). It holds types and small lookups; the work is done by the
// packages above it.
//
// Conventions that hold everywhere:
//   - units: s, hPa, K, % over liquid water at all temperatures, m s⁻¹ (u towards east,
//     v towards north), degrees, m above mean sea level, m above the ellipsoid, gpm;
//   - a missing value is NaN and its flag is quality.Missing; zero is a value;
//   - row i is the same row in every stage of a flight, before release and after burst
//     included, so that a trail is a look-up and never a search;
//   - steps return new columns and never change those they were given.
package sounding
