// Package gas holds the physics of a sounding balloon: densities of air and lifting gas,
// lift and fill, drag and rate of climb, burst, fall under a parachute, and how much gas
// is in a cylinder.
//
// In order of a launch: a Store of cylinders holds an amount of a Mixture; a Fill puts
// some of it into a balloon at the Air of the release point; Drag turns its free lift
// into a rate of climb; Climb follows it up an Atmosphere until the skin has reached its
// burst diameter; a Parachute brings the rest down.
//
// Units: hPa, K, kg, m, m³, m s⁻¹, mol, heights in gpm. Amounts of gas are mol, because
// neither temperature nor pressure changes them. NaN in gives NaN out. One topic a file;
// pages lift, drag, balloon-burst, cylinder and descent in docs/methods.
package gas
