package store_test

import (
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"leadline/internal/prelaunch"
	"leadline/internal/store"
)

func TestRecoveryLog(t *testing.T) {
	l := store.RecoveryLogOf(filepath.Join(t.TempDir(), "leadline.db"))
	if list, torn, err := l.Recoveries(); len(list) != 0 || torn || err != nil {
		t.Errorf("a log that is not there: %v %v %v", list, torn, err)
	}
	entry := func(state prelaunch.RecoveryState) prelaunch.Recovery {
		return prelaunch.Recovery{Serial: "T1", Flight: "pier", State: state, At: time.Date(2031, 6, 7, 9, 0, 0, 0, time.UTC), Who: "A. Operator", Place: &prelaunch.Place{Latitude: 46.5, Longitude: 6.4}}
	}
	if err := l.AddRecovery(prelaunch.Recovery{Serial: "T1", State: "eaten"}); err == nil {
		t.Error("a state that is none was taken")
	}
	var wait sync.WaitGroup
	for range 20 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			if err := l.AddRecovery(entry(prelaunch.Found)); err != nil {
				t.Error(err)
			}
		}()
	}
	wait.Wait()
	// A line torn by a crash spoils only itself.
	b, err := os.ReadFile(l.Path())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(l.Path(), append(b, `{"serial":"T9","fl`...), 0o600); err != nil {
		t.Fatal(err)
	}
	if list, torn, err := l.Recoveries(); len(list) != 20 || !torn || err != nil {
		t.Errorf("%d entries, torn %v, %v", len(list), torn, err)
	}
	if err := l.AddRecovery(entry(prelaunch.Returned)); err != nil {
		t.Fatal(err)
	}
	list, torn, err := l.Recoveries()
	if len(list) != 21 || torn || err != nil || list[20].State != prelaunch.Returned || *list[0].Place != (prelaunch.Place{Latitude: 46.5, Longitude: 6.4}) {
		t.Errorf("%d entries, torn %v, %v", len(list), torn, err)
	}
	// A broken line in the middle is never thrown away silently.
	if err := os.WriteFile(l.Path(), append([]byte("{}\n"), b...), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := l.AddRecovery(entry(prelaunch.Found)); err == nil || !strings.Contains(err.Error(), "line 1") {
		t.Errorf("a broken log was written to: %v", err)
	}
}
