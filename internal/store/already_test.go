package store

import (
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"leadline/internal/workbench"
)

// Two processes that add the same flight at the same moment store it once, and the other is
// told which it is. Each has a logbook of its own open, as processes have.
func TestOneFlightAddedByManyAtOnceIsStoredOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "l.db")
	const writers, flights = 4, 10
	var wait sync.WaitGroup
	var mu sync.Mutex
	stored, known := map[string]int{}, map[string]int{}
	for range writers {
		s := open(t, path)
		wait.Go(func() {
			for n := range flights {
				f, row := flight(n)
				id, err := s.AddFlight(ctx, f, row)
				var already *workbench.AlreadyError
				mu.Lock()
				switch {
				case err == nil:
					stored[id]++
				case errors.As(err, &already) && already.Why == workbench.SameBytes:
					known[already.ID]++
				default:
					t.Error(err)
				}
				mu.Unlock()
			}
		})
	}
	wait.Wait()
	if len(stored) != flights || len(known) != flights {
		t.Fatalf("%d stored, %d recognised, want %d of each", len(stored), len(known), flights)
	}
	for id, n := range stored {
		if n != 1 || known[id] != writers-1 {
			t.Errorf("flight %s: stored %d times, recognised %d times", id, n, known[id])
		}
	}
}

func TestAFlightIsRecognisedByItsPartsOrItsFingerprint(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	f, row := flight(1)
	first, err := s.AddFlight(ctx, f, row)
	if err != nil {
		t.Fatal(err)
	}
	other, _ := flight(2)
	for _, c := range []struct {
		name   string
		change func(*workbench.StoredFlight)
		why    string // empty: it is another flight
	}{
		{"same bytes, fingerprint of another method", func(f *workbench.StoredFlight) { f.Fingerprint = "new" }, workbench.SameBytes},
		{"other bytes, same fingerprint", func(f *workbench.StoredFlight) { f.Sources = other.Sources }, workbench.SameFlight},
		{"another part of the source", func(f *workbench.StoredFlight) { f.Fingerprint = "part"; f.Sources[1].Part = 7 }, ""},
		{"one source of two", func(f *workbench.StoredFlight) { f.Fingerprint = "one"; f.Sources = f.Sources[:1] }, ""},
		{"no source and no fingerprint", func(f *workbench.StoredFlight) { f.Fingerprint = ""; f.Sources = nil }, ""},
		{"again no source and no fingerprint", func(f *workbench.StoredFlight) { f.Fingerprint = ""; f.Sources = nil }, ""},
	} {
		f, row := flight(1)
		c.change(&f)
		_, err := s.AddFlight(ctx, f, row)
		var already *workbench.AlreadyError
		switch {
		case c.why == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.why != "" && (!errors.As(err, &already) || already.ID != first || already.Why != c.why || !strings.Contains(err.Error(), "as flight "+first)):
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
