package suggest

import (
	"fmt"
	"time"

	"leadline/internal/sounding"
)

// sameClock: a decision corrected the declared release by whole half hours or days, as
// for local time or a wrong date, and other instants of the record were read off the
// same clock. That the clock was wrong is known, so only the company costs.
func (f *facts) sameClock(w *world) []hypothesis {
	given := f.o.Inputs.Record
	if given == nil && f.o.Inputs.Raw != nil {
		given = f.o.Inputs.Raw.Record
	}
	if given == nil || given.Release.Declared.IsZero() {
		return nil
	}
	decision, corrected := "", map[string]bool{}
	for _, d := range f.o.Inputs.Decisions {
		if d.Action != sounding.ActCorrectRecord || d.Revoked != nil {
			continue
		}
		corrected[d.Field] = true
		if d.Field == "release.declared_utc" {
			decision = d.ID
		}
	}
	by := given.Release.Declared.Sub(f.o.Record.Release.Declared)
	half := by.Round(30 * time.Minute)
	// What was typed minutes late is not the clock's.
	if decision == "" || half == 0 || (by-half).Abs() > 10*time.Minute {
		return nil
	}
	name, words := LocalTime, fmt.Sprintf("%s h from UTC", signed(half.Hours()))
	if half.Abs() > 14*time.Hour {
		if half%(24*time.Hour) != 0 {
			return nil
		}
		name, words = DateWrong, fmt.Sprintf("%s days from the date of the data", signed(half.Hours()/24))
	}
	var paths []string
	var decisions []sounding.Decision
	for _, path := range []string{"surface.time_utc", "ground_check.time_utc"} {
		field, _ := sounding.FieldByPath(path)
		if at := *field.Instant(&w.record); !at.IsZero() && !corrected[path] {
			paths = append(paths, path)
			decisions = append(decisions, correct(path, at.Add(-half).UTC().Format(time.RFC3339), "read off the same clock as the declared release, "+words))
		}
	}
	shift := func(paths []string, decisions []sounding.Decision, what string) hypothesis {
		return hypothesis{name: name, price: priceTogether - priceDeclared, decisions: decisions,
			sentence: fmt.Sprintf("%s read off the same clock as the declared release, %s before %s corrected it", what, words, decision),
			change: func(w *world) {
				for _, path := range paths {
					field, _ := sounding.FieldByPath(path)
					at := field.Instant(&w.record)
					*at = at.Add(-half)
				}
			}}
	}
	var out []hypothesis
	// Both first: one that is inside its usual time either way leaves the gain as it is.
	if len(paths) == 2 {
		out = append(out, shift(paths, decisions, "surface observation and ground check were"))
	}
	for i, path := range paths {
		out = append(out, shift(paths[i:i+1], decisions[i:i+1], map[string]string{"surface.time_utc": "the surface observation was", "ground_check.time_utc": "the ground check was"}[path]))
	}
	return out
}
