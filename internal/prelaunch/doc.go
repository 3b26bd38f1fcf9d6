// Package prelaunch plans a release and judges what is known before it: slots and local
// time, the fill, the ground check, the surface observation, where the flight will go
// and come down, stock, the launch list, and the sheet that goes out with the crew.
//
// In order of the work: Slot → Surface and site → Fill → Drift → GroundCheck → List →
// Sheet. Prepare joins them. Everything is a pure function of its arguments: files,
// clocks and random seeds come from the caller, and the same inputs give the same bytes.
//
// Remarks say what was found in one plain sentence. What can hurt someone is said as a
// caution beside the step it belongs to, and always defers to the airspace authority,
// the rules of the site and trained practice. Landing areas are estimates.
package prelaunch
