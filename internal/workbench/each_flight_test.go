package workbench

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
	"time"
)

func numbered(n int) []string {
	ids := make([]string, n)
	for i := range ids {
		ids[i] = fmt.Sprint(i)
	}
	return ids
}

func TestEachFlightKeepsTheOrderAndGoesOnAfterAnError(t *testing.T) {
	ids := numbered(200)
	bad := errors.New("unreadable")
	var at, most atomic.Int32
	next := 0
	err := EachFlight(context.Background(), ids, 7, func(_ context.Context, id string) (string, error) {
		if n := at.Add(1); n > most.Load() {
			most.Store(n)
		}
		defer at.Add(-1)
		if len(id) == 1 { // the first ones take longest
			time.Sleep(3 * time.Millisecond)
		}
		if id == "50" {
			return "", bad
		}
		return "r" + id, nil
	}, func(i int, id, result string, err error) error {
		if i != next || id != ids[i] {
			t.Errorf("got %d (%s), want %d", i, id, next)
		}
		next++
		if (id == "50") != errors.Is(err, bad) || id != "50" && result != "r"+id {
			t.Errorf("flight %s: %q, %v", id, result, err)
		}
		return nil
	})
	if err != nil || next != len(ids) {
		t.Fatalf("%d handed on, %v", next, err)
	}
	if most.Load() > 7 || most.Load() < 2 {
		t.Errorf("%d flights at once with 7 workers", most.Load())
	}
}

func TestEachFlightHoldsFewResults(t *testing.T) {
	var made, taken, most atomic.Int64
	err := EachFlight(context.Background(), numbered(500), 4, func(context.Context, string) (int, error) {
		if n := made.Add(1) - taken.Load(); n > most.Load() {
			most.Store(n)
		}
		return 0, nil
	}, func(int, string, int, error) error {
		time.Sleep(50 * time.Microsecond) // handing on is slower than the work
		taken.Add(1)
		return nil
	})
	if err != nil || taken.Load() != 500 {
		t.Fatal(taken.Load(), err)
	}
	if most.Load() > 3*4+4 {
		t.Errorf("%d results were held at once", most.Load())
	}
}

func TestEachFlightStops(t *testing.T) {
	enough := errors.New("enough")
	var begun atomic.Int64
	work := func(context.Context, string) (int, error) { return int(begun.Add(1)), nil }
	err := EachFlight(context.Background(), numbered(10000), 3, work, func(i int, _ string, _ int, _ error) error {
		if i > 10 {
			t.Errorf("handed on %d after the end", i)
		}
		if i == 10 {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) || begun.Load() > 60 {
		t.Errorf("%v after %d flights", err, begun.Load())
	}
	ctx, cancel := context.WithCancel(context.Background())
	begun.Store(0)
	err = EachFlight(ctx, numbered(10000), 3, work, func(i int, _ string, _ int, _ error) error {
		if i == 5 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || begun.Load() > 60 {
		t.Errorf("%v after %d flights", err, begun.Load())
	}
	if err := EachFlight(context.Background(), nil, 0, work, nil); err != nil {
		t.Error(err)
	}
}
