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
	for _, path := range []string{"surface.time_utc", "ground_check.time_utc"} {
		if field, _ := sounding.FieldByPath(path); !field.Instant(&w.record).IsZero() && !corrected[path] {
			paths = append(paths, path)
		}
	}
	shift := func(what string, paths ...string) hypothesis {
		return hypothesis{name: name, price: priceTogether - priceDeclared, change: earlier(paths, half),
			decisions: correctedBy(w, paths, half, "read off the same clock as the declared release, "+words),
			sentence:  fmt.Sprintf("%s read off the same clock as the declared release, %s before %s corrected it", what, words, decision)}
	}
	var out []hypothesis
	// Both first: one that is inside its usual time either way leaves the gain as it is.
	if len(paths) == 2 {
		out = append(out, shift("surface observation and ground check were", paths...))
	}
	for _, path := range paths {
		out = append(out, shift(map[string]string{"surface.time_utc": "the surface observation was", "ground_check.time_utc": "the ground check was"}[path], path))
	}
	return out
}
