// Package indices reads off a final flight what forecasters ask a sounding for: parcels
// and their energy, stability indices, shear and helicity, precipitable water, melting
// levels, inversions, boundary-layer height, refractivity and ducts, static stability;
// each with its uncertainty, its convention and the profile it came from.
//
// A number whose layer holds missing data is refused, with the reason in words: it is
// then not set, never a guess. The physics is in package parcel; this package decides
// which samples are used, what is refused, and carries the uncertainty.
//
// Pages: docs/methods/indices.md and docs/methods/parcel.md.
package indices
