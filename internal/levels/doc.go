// Package levels reads off a final profile what is reported and compared: surface and
// standard levels, tropopauses, freezing level, significant levels, maximum winds, and
// the profile on regular grids.
//
// A level always is a pressure level. All rules work on the first passage of the ascent:
// rows of the ascent whose pressure is lower than that of every row before, so that a
// balloon that sinks for a while does not bring the same pressure twice. Samples that
// are bad or missing are not used; between samples values are linear in ln p (wind by its
// components), and never across a gap longer than the settings allow.
//
// One rule a file; pages of the same names in docs/methods.
package levels
