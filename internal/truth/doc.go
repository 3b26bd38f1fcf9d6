// Package truth simulates radiosonde flights whose true answer is known.
//
// A Scenario (climate, site, release, balloon, instrument sheet, faults) and a seed
// make a Flight: an atmosphere, a balloon through it, an instrument that departs from
// its sheet by hidden amounts, telemetry that loses rows, receivers that write files,
// an operator who writes a launch record. The flight holds what the air really did
// (Truth), what was received (Receptions), and for every injected fault which rows it
// touched and by how much.
//
// In order: atmosphere → path (balloon, string, drift) → instrument → telemetry →
// receivers → faults → files. Each part draws from its own random stream, so the same
// scenario and seed give the same bytes, and a fault changes nothing but what it says.
//
// What is shared with the corrections, and what is deliberately another formula, is
// listed in docs/methods/simulator.md.
package truth
