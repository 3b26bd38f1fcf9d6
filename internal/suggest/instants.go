package suggest

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/sounding"
)

// instants: the declared release is wrong, local time was written as UTC, or the date
// is wrong.
func (f *facts) instants(w *world) []hypothesis {
	declared := w.record.Release.Declared
	if declared.IsZero() || !f.released {
		return nil
	}
	off := declared.Sub(f.release)
	found := f.release.Round(time.Second)
	late := fmt.Sprintf("%.0f s late", off.Seconds())
	if off < 0 {
		late = fmt.Sprintf("%.0f s early", -off.Seconds())
	}
	out := []hypothesis{{name: DeclaredReleaseWrong, price: priceDeclared,
		sentence:  fmt.Sprintf("the release was declared %s: for %s where height and pressure leave the ground at %s", late, clock(declared), clock(found)),
		change:    func(w *world) { w.record.Release.Declared = found },
		decisions: []sounding.Decision{correct("release.declared_utc", found.UTC().Format(time.RFC3339), "declared "+late+"; the release found in the data")}}}
	// The shift that several instants may share: the time zones, and whole days. What a
	// person typed minutes late is not explained twice: the rest must be short.
	half := time.Duration(math.Round(off.Hours()*2)) * 30 * time.Minute
	if half == 0 {
		return out
	}
	shift := func(name, words string, by time.Duration, all bool, price float64) {
		paths := []string{"release.declared_utc"}
		if all {
			paths = append(paths, "surface.time_utc", "ground_check.time_utc")
		}
		d := correctedBy(w, paths, by, words)
		if len(d) < len(paths) && all && len(d) < 2 {
			return
		}
		what := "the declared release is"
		if all {
			what = "declared release, surface observation and ground check are"
		}
		out = append(out, hypothesis{name: name, price: price, decisions: d,
			sentence: fmt.Sprintf("%s %s: declared for %s where height and pressure leave the ground at %s", what, words, clock(declared), clock(found)),
			change:   earlier(paths, by)})
	}
	if h := half.Hours(); math.Abs(h) <= 14 {
		words := fmt.Sprintf("written in local time, %s h from UTC", signed(h))
		shift(LocalTime, words, half, true, priceTogether)
		shift(LocalTime, words, half, false, priceTogether+1)
	}
	if days := time.Duration(math.Round(off.Hours()/24)) * 24 * time.Hour; days != 0 {
		words := fmt.Sprintf("%s days from the date of the data", signed(days.Hours()/24))
		shift(DateWrong, words, days, true, priceTogether)
		shift(DateWrong, words, days, false, priceTogether+1)
	}
	return out
}

// correctedBy returns the decisions that put the instants a record gives by as much earlier.
func correctedBy(w *world, paths []string, by time.Duration, reason string) []sounding.Decision {
	var out []sounding.Decision
	for _, path := range paths {
		field, _ := sounding.FieldByPath(path)
		if at := *field.Instant(&w.record); !at.IsZero() {
			out = append(out, correct(path, at.Add(-by).UTC().Format(time.RFC3339), reason))
		}
	}
	return out
}

// earlier is what those decisions change.
func earlier(paths []string, by time.Duration) func(*world) {
	return func(w *world) {
		for _, path := range paths {
			field, _ := sounding.FieldByPath(path)
			if at := field.Instant(&w.record); !at.IsZero() {
				*at = at.Add(-by)
			}
		}
	}
}

func clock(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05 UTC") }

func signed(x float64) string {
	if x > 0 {
		return "+" + decimal(x, 1)
	}
	return decimal(x, 1)
}

// instant is that of a row.
func (f *facts) instant(row int) time.Time {
	return f.final.Epoch.Add(time.Duration(math.Round(f.raw.Time[row]*1000)) * time.Millisecond).UTC()
}
