package truth

import "leadline/internal/sounding"

// Faults of the balloon itself change the whole flight from where they begin; the
// truth follows, because the air is still the air. The injected rows are those in
// which the balloon misbehaves.
func init() {
	register(
		&FaultInfo{Name: "early-burst", Kind: "balloon", Title: "the balloon bursts early", Unit: "m above the ground", Size: 9000,
			balloon: func(s *Scenario, f *Fault, plan *flightPlan, rnd *stream) { plan.burstAt = f.Size },
			apply:   func(j *injection) { j.say("balloon burst %.0f m above the ground", j.fault.Size) }},
		&FaultInfo{Name: "float", Kind: "balloon", Title: "the balloon floats for a while", Unit: "s", Size: 600,
			balloon: func(s *Scenario, f *Fault, plan *flightPlan, rnd *stream) {
				plan.floatAt, plan.floatFor, plan.sinking = rnd.between(7000, 15000), f.Size, 0
				if f.At > 0 {
					plan.floatAt = f.At * 5
				}
			},
			apply: func(j *injection) {
				j.misbehaves(func(rise float64) bool { return rise < 2 })
				j.say("balloon floated for %.0f s", j.fault.Size)
			}},
		&FaultInfo{Name: "temporary-descent", Kind: "balloon", Title: "ice or a downdraught takes the balloon down for a while", Unit: "s", Size: 300,
			balloon: func(s *Scenario, f *Fault, plan *flightPlan, rnd *stream) {
				plan.floatAt, plan.floatFor, plan.sinking = rnd.between(3500, 6500), f.Size, -1.6
				if f.At > 0 {
					plan.floatAt = f.At * 5
				}
			},
			apply: func(j *injection) {
				j.misbehaves(func(rise float64) bool { return rise < 0.5 })
				j.say("balloon sank for %.0f s and rose again", j.fault.Size)
			}},
		&FaultInfo{Name: "slow-leak", Kind: "balloon", Title: "the balloon leaks", Unit: "share of the gas per 1,000 s", Size: 0.08,
			balloon: func(s *Scenario, f *Fault, plan *flightPlan, rnd *stream) {
				plan.leakFrom, plan.leakShare = rnd.between(400, 1200), f.Size
				if f.At > 0 {
					plan.leakFrom = f.At
				}
			},
			apply: func(j *injection) {
				j.misbehaves(func(rise float64) bool { return rise < 2.5 })
				j.say("balloon lost %.1f %% of its gas per 1,000 s", 100*j.fault.Size)
			}},
		&FaultInfo{Name: "second-receiver", Kind: "rows", Title: "a second receiver writes a file of its own", Unit: "1", Size: 1,
			balloon: func(s *Scenario, f *Fault, plan *flightPlan, rnd *stream) { s.Second = true },
			apply:   func(j *injection) { j.say("a second receiver wrote the same flight from before release on") }},
	)
}

// misbehaves marks the rows between the first and the last ascending minute whose mean
// rate of climb fits.
func (j *injection) misbehaves(odd func(rise float64) bool) {
	t := &j.f.Truth
	half := max(1, int(15/j.f.Scenario.Interval))
	for n := range j.f.Receptions {
		r := &j.f.Receptions[n]
		for i, k := range r.Sample {
			a, b := int(k)-half, int(k)+half
			if k < 0 || a < 0 || b >= t.Len() || !(t.Time[a] > t.Release+30) || t.Phase[b] != sounding.Ascending {
				continue
			}
			if odd((t.HeightMSL[b] - t.HeightMSL[a]) / (t.Time[b] - t.Time[a])) {
				r.marks[i] |= 1 << j.index
			}
		}
	}
}
