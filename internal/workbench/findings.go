package workbench

import (
	"fmt"
	"slices"
	"strings"

	"leadline/internal/sounding"
)

// knows refuses a decision about a finding that this run does not make.
func (o *Outcome) knows(flight string, d *sounding.Decision) error {
	if d.Action != sounding.ActAccept && d.Action != sounding.ActDismiss {
		return nil
	}
	for i := range o.Final.Findings {
		if o.Final.Findings[i].ID == d.Field {
			return nil
		}
	}
	return &UnknownFindingError{Flight: flight, ID: d.Field, Nearest: nearest(o.Final.Findings, d.Field)}
}

// UnknownFindingError says that a decision is about a finding the flight does not have.
type UnknownFindingError struct {
	Flight, ID string
	Nearest    []string // ids that come closest, the closest first
}

func (e *UnknownFindingError) Error() string {
	if len(e.Nearest) == 0 {
		return fmt.Sprintf("flight %s has no finding %q: no check has found anything about it", e.Flight, e.ID)
	}
	return fmt.Sprintf("flight %s has no finding %q: the nearest are %s", e.Flight, e.ID, strings.Join(e.Nearest, ", "))
}

// nearest returns the ids of at most three findings that share the longest beginning with
// id, which names check, variable and instant in this order.
func nearest(findings []sounding.Finding, id string) []string {
	ids := make([]string, len(findings))
	for i := range findings {
		ids[i] = findings[i].ID
	}
	slices.SortStableFunc(ids, func(a, b string) int { return common(b, id) - common(a, id) })
	return ids[:min(3, len(ids))]
}

// common is the number of bytes two texts have in common at their beginning.
func common(a, b string) int {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}
