package store

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

var (
	note = sounding.Decision{Action: sounding.ActNote, Reason: "seen", Who: "a"}
	back = sounding.Revoked{Reason: "not so", Who: "b", When: time.Date(2031, 6, 4, 9, 0, 0, 0, time.UTC)}
	sign = sounding.Signature{Who: "c", When: time.Date(2031, 6, 4, 10, 0, 0, 0, time.UTC), MethodSet: "m", Digest: "0a", Verdict: "accept"}
)

func one(t *testing.T) (*Store, string) {
	t.Helper()
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	f, row := flight(1)
	id, err := s.AddFlight(ctx, f, row)
	if err != nil {
		t.Fatal(err)
	}
	return s, id
}

// must fails the test on an error and returns the revision.
func must(t *testing.T) func(revision int, err error) int {
	return func(revision int, err error) int {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return revision
	}
}

func TestASignedFlightTakesNothingButAReopening(t *testing.T) {
	s, id := one(t)
	ok := must(t)
	_, revision, err := s.Decide(ctx, id, note, 0)
	revision = ok(revision, err)
	revision = ok(s.Sign(ctx, id, sign, revision))
	refused := func(what string, err error) {
		t.Helper()
		var signed *workbench.SignedError
		if !errors.As(err, &signed) {
			t.Errorf("%s on a signed flight: %v", what, err)
			return
		}
		if signed.Signature.Who != "c" || signed.Signature.Revision != 1 || !strings.Contains(err.Error(), "signed off by c, 2031-06-04 10:00 UTC") || !strings.Contains(err.Error(), "reopen") {
			t.Errorf("%s: %v, %+v", what, err, signed.Signature)
		}
	}
	// Whatever revision the caller has seen, the lock is what is said first.
	for _, seen := range []int{0, 1, revision} {
		_, _, err = s.Decide(ctx, id, note, seen)
		refused("a decision", err)
		_, err = s.Revoke(ctx, id, "d1", back, seen)
		refused("a revocation", err)
		_, _, err = s.Undo(ctx, id, back, seen)
		refused("undo", err)
		_, _, err = s.Redo(ctx, id, back, seen)
		refused("redo", err)
		_, err = s.Sign(ctx, id, sign, seen)
		refused("a second signature", err)
	}
	var stale *workbench.StaleError
	if _, err = s.Reopen(ctx, id, sounding.Reopening{Who: "d", Reason: "late file"}, 0); !errors.As(err, &stale) {
		t.Errorf("reopening at an older revision: %v", err)
	}
	revision = ok(s.Reopen(ctx, id, sounding.Reopening{Who: "d", Reason: "late file"}, revision))
	var nothing *workbench.RefusedError
	if _, err = s.Reopen(ctx, id, sounding.Reopening{Who: "d", Reason: "again"}, revision); !errors.As(err, &nothing) {
		t.Errorf("a flight that is not signed was reopened: %v", err)
	}
	_, revision, err = s.Decide(ctx, id, note, revision)
	ok(revision, err)
	f, err := s.Flight(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	var kinds []string
	for i, r := range f.History {
		kinds = append(kinds, string(r.Kind)+" "+r.Who)
		if r.Revision != i+1 {
			t.Errorf("step %d has revision %d", i, r.Revision)
		}
	}
	if d := cmp.Diff([]string{"decision a", "signature c", "reopening d", "decision a"}, kinds); d != "" {
		t.Error(d)
	}
	if now := workbench.Replay(f.History); now.Signature != nil || now.Reopened == nil || now.Reopened.Reason != "late file" {
		t.Errorf("%+v", now)
	}
}

func TestUndoAndRedoGoStepByStep(t *testing.T) {
	s, id := one(t)
	ok := must(t)
	revision := 0
	inForce := func(want ...string) {
		t.Helper()
		f, err := s.Flight(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, d := range f.Decisions {
			if d.Revoked == nil {
				got = append(got, d.ID)
			}
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Error(d)
		}
	}
	step := func(want string, do func() (string, int, error)) {
		t.Helper()
		got, r, err := do()
		if err != nil || got != want || r != revision+1 {
			t.Fatalf("%q, revision %d, %v; want %q", got, r, err, want)
		}
		revision = r
	}
	undo := func() (string, int, error) { return s.Undo(ctx, id, back, revision) }
	redo := func() (string, int, error) { return s.Redo(ctx, id, back, revision) }
	decide := func() (string, int, error) {
		d, r, err := s.Decide(ctx, id, note, revision)
		return d.ID, r, err
	}
	nothing := func(do func() (string, int, error)) {
		t.Helper()
		var refused *workbench.RefusedError
		if _, _, err := do(); !errors.As(err, &refused) {
			t.Errorf("want a refusal, got %v", err)
		}
	}
	nothing(undo)
	nothing(redo)
	for _, want := range []string{"d1", "d2", "d3"} {
		step(want, decide)
	}
	nothing(redo)
	step("d3", undo)
	step("d2", undo)
	inForce("d1")
	step("d2", redo)
	inForce("d1", "d2")
	step("d2", undo)
	step("d2", redo)
	step("d3", redo)
	inForce("d1", "d2", "d3")
	nothing(redo)
	step("d3", undo)
	step("d4", decide) // something else was decided: d3 stays taken back
	nothing(redo)
	inForce("d1", "d2", "d4")
	// One that was taken back by name comes back as well.
	revision = ok(s.Revoke(ctx, id, "d1", back, revision))
	step("d1", redo)
	inForce("d1", "d2", "d4")
	// A signature is the end of what can be put back.
	step("d4", undo)
	revision = ok(s.Sign(ctx, id, sign, revision))
	revision = ok(s.Reopen(ctx, id, sounding.Reopening{Who: "d", Reason: "r"}, revision))
	nothing(redo)
	inForce("d1", "d2")
	f, err := s.Flight(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.History) != revision {
		t.Errorf("%d steps, revision %d", len(f.History), revision)
	}
	for _, r := range f.History {
		if (r.Kind == workbench.RulingUndo || r.Kind == workbench.RulingRedo) && (r.Decision == nil || r.Decision.ID != r.ID || r.Decision.Revoked != nil || r.Reason != "not so" || r.When.IsZero()) {
			t.Errorf("%+v", r)
		}
	}
}

func TestStaleSignaturesAndRedosAreRefusedWithWhatChanged(t *testing.T) {
	s, id := one(t)
	if _, _, err := s.Decide(ctx, id, note, 0); err != nil {
		t.Fatal(err)
	}
	if _, _, err := s.Undo(ctx, id, back, 1); err != nil {
		t.Fatal(err)
	}
	for what, do := range map[string]func() error{
		"a signature": func() error { _, err := s.Sign(ctx, id, sign, 1); return err },
		"redo":        func() error { _, _, err := s.Redo(ctx, id, back, 1); return err },
		"undo":        func() error { _, _, err := s.Undo(ctx, id, back, 1); return err },
	} {
		var stale *workbench.StaleError
		if err := do(); !errors.As(err, &stale) || len(stale.Since) != 1 || stale.Since[0].Kind != workbench.RulingUndo || !strings.Contains(err.Error(), "note taken back by b: not so") {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, err := s.Sign(ctx, id, sounding.Signature{Who: "c"}, 2); err == nil {
		t.Error("a signature that does not say what was signed was stored")
	}
}

func TestOneOfManySignersAndDecidersWins(t *testing.T) {
	path := filepath.Join(t.TempDir(), "l.db")
	s := open(t, path)
	f, row := flight(1)
	id, _ := s.AddFlight(ctx, f, row)
	var wait sync.WaitGroup
	won := make(chan string, 16)
	for i := range 8 {
		wait.Go(func() {
			other, err := Open(path)
			if err != nil {
				t.Error(err)
				return
			}
			defer other.Close()
			if i%2 == 0 {
				if _, err := other.Sign(ctx, id, sign, 0); err == nil {
					won <- "signature"
				}
			} else if _, _, err := other.Decide(ctx, id, note, 0); err == nil {
				won <- "decision"
			}
		})
	}
	wait.Wait()
	close(won)
	if len(won) != 1 {
		t.Errorf("%d of 8 won at one revision", len(won))
	}
}

func TestHistoryCannotBeChanged(t *testing.T) {
	s, id := one(t)
	if _, _, err := s.Decide(ctx, id, note, 0); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"update ruling set json = '{}'", "delete from ruling"} {
		if _, err := s.write.Exec(text); err == nil || !strings.Contains(err.Error(), "history") {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// A logbook made before there were signatures keeps its decisions, and a copy as it was.
func TestALogbookMadeBeforeSignaturesIsBroughtUpToDate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	text, err := schema.ReadFile("schema/0001_logbook.sql")
	if err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []string{string(text), "pragma user_version = 1",
		`insert into blob values ('e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855', x'', 0)`,
		`insert into flight (name, fingerprint, record_name, record_sha256, sheet_name, sheet_sha256, settings_name, settings_sha256, added_utc, revision)
			select 'north', 'p', '', sha256, '', sha256, '', sha256, '2031-06-04T01:02:03Z', 3 from blob`,
		`insert into ruling values (1, 1, 'decision', 'd1', '{"id":"d1","action":"note","reason":"first","who":"a"}'),
			(1, 2, 'decision', 'd2', '{"id":"d2","action":"note","reason":"second","who":"a"}'),
			(1, 3, 'revocation', 'd1', '{"reason":"wrong flight","who":"b","when_utc":"2031-06-04T01:02:03Z"}')`} {
		if _, err := db.Exec(x); err != nil {
			t.Fatal(err)
		}
	}
	db.Close()
	// Several programs find the old logbook at once; a killed one has left half a copy.
	files, err := schema.ReadDir("schema")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(fmt.Sprintf("%s.before-%d", path, len(files)), []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			s, err := Open(path)
			if err != nil {
				t.Error(err)
				return
			}
			s.Close()
		})
	}
	wait.Wait()
	s := open(t, path)
	f, err := s.Flight(ctx, "1")
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Decisions) != 2 || f.Decisions[0].Revoked == nil || f.Decisions[0].Revoked.Who != "b" || f.Decisions[1].Revoked != nil || f.Revision != 3 || len(f.History) != 3 {
		t.Errorf("%+v", f)
	}
	if revision, err := s.Sign(ctx, "1", sign, 3); err != nil || revision != 4 {
		t.Errorf("revision %d, %v", revision, err)
	}
	copies, err := filepath.Glob(path + ".*")
	if err != nil {
		t.Fatal(err)
	}
	var old string
	for _, c := range copies {
		if strings.Contains(c, "partial") {
			t.Errorf("a part of a copy was left: %s", c)
		}
		if strings.Contains(c, ".before-") {
			old = c
			was, err := sql.Open("sqlite", "file:"+c)
			if err != nil {
				t.Fatal(err)
			}
			var steps, version int
			if err := errors.Join(was.QueryRow("select count(*) from ruling").Scan(&steps), was.QueryRow("pragma user_version").Scan(&version), was.Close()); err != nil || steps != 3 || version != 1 {
				t.Errorf("%s: %d steps, schema %d, %v", c, steps, version, err)
			}
		}
	}
	if old == "" {
		t.Errorf("no copy of the old logbook: %v", copies)
	}
}
