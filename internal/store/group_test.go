package store

import (
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

var said = sounding.Revoked{Who: "second reviewer", Reason: "the survey was right", When: time.Date(2031, 6, 5, 8, 0, 0, 0, time.UTC)}

// several opens a logbook of n flights.
func several(t *testing.T, n int) *Store {
	t.Helper()
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	for i := range n {
		f, row := flight(i + 1)
		if _, err := s.AddFlight(ctx, f, row); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func group() workbench.Group {
	return workbench.Group{Action: sounding.ActCorrectRecord, Field: "site.height_m_msl", Value: "437 m", Reason: "typed wrong once", Who: "first reviewer", When: time.Date(2031, 6, 4, 9, 0, 0, 0, time.UTC)}
}

// part is what is added for a flight that stands at a revision and has made decisions.
func part(id string, revision, made, decisions int) workbench.GroupAddition {
	a := workbench.GroupAddition{Seen: workbench.Seen{Flight: id, Revision: revision}, Row: workbench.Row{ID: id, Revision: revision + decisions, State: "in review", TopHPa: sounding.NotSet, Top: sounding.NotSet}}
	for i := range decisions {
		g := group()
		a.Decisions = append(a.Decisions, sounding.Decision{ID: fmt.Sprintf("d%d", made+i+1), Action: g.Action, Field: g.Field, Value: g.Value, Reason: g.Reason, Who: g.Who, When: g.When})
	}
	return a
}

func (s *Store) steps(t *testing.T) int {
	t.Helper()
	var n int
	if err := s.read.QueryRow("select (select count(*) from ruling) + (select count(*) from decision_group) + (select count(*) from member) + (select count(*) from group_revocation)").Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestAGroupIsStoredForAllItsFlights(t *testing.T) {
	s := several(t, 3)
	if _, _, err := s.Decide(ctx, "2", sounding.Decision{Action: sounding.ActNote, Reason: "r", Who: "w"}, 0); err != nil {
		t.Fatal(err)
	}
	g, err := s.DecideGroup(ctx, group(), nil, []workbench.GroupAddition{part("1", 0, 0, 1), part("2", 1, 1, 2)})
	if err != nil {
		t.Fatal(err)
	}
	if g.ID != "g1" || len(g.Parts) != 3 {
		t.Fatalf("%+v", g)
	}
	f, err := s.Flight(ctx, "2")
	if err != nil {
		t.Fatal(err)
	}
	if f.Revision != 3 || len(f.Decisions) != 3 || f.Decisions[1].Group != "g1" || f.Decisions[2].Group != "g1" || f.Decisions[0].Group != "" {
		t.Errorf("%+v", f)
	}
	rows, err := s.Rows(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for i, stale := range []bool{false, false, false} {
		if rows[i].Stale != stale {
			t.Errorf("row %d: stale %v", i, rows[i].Stale)
		}
	}
	if rows[1].State != "in review" || rows[2].State == "in review" {
		t.Errorf("rows %+v", rows)
	}
	all, err := s.Groups(ctx)
	if err != nil || len(all) != 1 {
		t.Fatalf("%v, %v", all, err)
	}
	want := group()
	want.ID, want.Revoked = "g1", []workbench.GroupRevocation{}
	want.Parts = []workbench.GroupPart{{Flight: "1", Decision: "d1", InForce: true}, {Flight: "2", Decision: "d2", InForce: true}, {Flight: "2", Decision: "d3", InForce: true}}
	if !reflect.DeepEqual(all[0], want) {
		t.Errorf("%+v\nwant %+v", all[0], want)
	}
}

// What one flight refuses is stored for none, and every flight that refuses is named.
func TestAGroupIsStoredForAllOrNone(t *testing.T) {
	s := several(t, 4)
	if _, _, err := s.Decide(ctx, "2", sounding.Decision{Action: sounding.ActNote, Reason: "somebody was here", Who: "second reviewer"}, 0); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Sign(ctx, "3", sounding.Signature{Who: "first reviewer", Digest: "x"}, 0); err != nil {
		t.Fatal(err)
	}
	before := s.steps(t)
	_, err := s.DecideGroup(ctx, group(), nil, []workbench.GroupAddition{part("1", 0, 0, 1), part("2", 0, 0, 1), part("3", 1, 0, 1), part("9", 0, 0, 1), part("4", 0, 0, 1)})
	var refused *workbench.GroupError
	if !errors.As(err, &refused) || len(refused.Flights) != 3 {
		t.Fatalf("%v", err)
	}
	for i, want := range []struct{ flight, why string }{{"2", "somebody was here"}, {"3", "signed off by first reviewer"}, {"9", "no such flight"}} {
		if got := refused.Flights[i]; got.Flight != want.flight || !strings.Contains(got.Why, want.why) {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	if after := s.steps(t); after != before {
		t.Errorf("%d steps, %d before: something was stored", after, before)
	}
	if f, err := s.Flight(ctx, "1"); err != nil || f.Revision != 0 || len(f.Decisions) != 0 {
		t.Errorf("%+v, %v", f, err)
	}
	// Without those that refuse it is stored, under the first number.
	g, err := s.DecideGroup(ctx, group(), nil, []workbench.GroupAddition{part("1", 0, 0, 1), part("4", 0, 0, 1)})
	if err != nil || g.ID != "g1" {
		t.Errorf("%+v, %v", g, err)
	}
}

func TestAGroupIsTakenBackAsOne(t *testing.T) {
	s := several(t, 3)
	if _, err := s.DecideGroup(ctx, group(), nil, []workbench.GroupAddition{part("1", 0, 0, 1), part("2", 0, 0, 2), part("3", 0, 0, 1)}); err != nil {
		t.Fatal(err)
	}
	alone := said
	alone.Reason = "not this one"
	if _, err := s.Revoke(ctx, "3", "d1", alone, 1); err != nil {
		t.Fatal(err)
	}
	// A flight whose part is not in force any more stands against it, and nothing is taken back.
	var refused *workbench.GroupError
	if err := s.RevokeGroup(ctx, "g1", said, []workbench.GroupAddition{part("1", 1, 0, 1), part("3", 2, 0, 1)}); !errors.As(err, &refused) || len(refused.Flights) != 1 || refused.Flights[0].Flight != "3" {
		t.Fatalf("%v", err)
	}
	if f, _ := s.Flight(ctx, "1"); f.Decisions[0].Revoked != nil {
		t.Error("a part was taken back although another refused")
	}
	if err := s.RevokeGroup(ctx, "g1", said, []workbench.GroupAddition{part("1", 1, 0, 1), part("2", 2, 0, 2)}); err != nil {
		t.Fatal(err)
	}
	f, err := s.Flight(ctx, "2")
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range f.Decisions {
		if d.Revoked == nil || d.Revoked.Group != "g1" || d.Revoked.Reason != said.Reason {
			t.Errorf("%+v", d)
		}
	}
	all, err := s.Groups(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all[0].Parts {
		if p.InForce {
			t.Errorf("%+v is in force", p)
		}
	}
	if len(all[0].Revoked) != 1 || all[0].Revoked[0].Flights != 2 || all[0].Revoked[0].Who != said.Who {
		t.Errorf("%+v", all[0].Revoked)
	}
	// One of the parts is put back alone, by the ordinary redo.
	if _, _, err := s.Redo(ctx, "1", said, 2); err != nil {
		t.Fatal(err)
	}
	all, err = s.Groups(ctx)
	if now, of := all[0].InForce(); err != nil || now != 1 || of != 3 {
		t.Errorf("%d of %d in force, %v", now, of, err)
	}
	if err := s.RevokeGroup(ctx, "g7", said, []workbench.GroupAddition{part("1", 3, 0, 1)}); err == nil {
		t.Error("a group that is not there was taken back")
	}
}

func TestASheetChosenComesBackWithTheFlight(t *testing.T) {
	s := several(t, 2)
	text := blobOf("own.toml", []byte("name = \"own\"\n"))
	a := part("1", 0, 0, 1)
	a.Decisions[0] = sounding.Decision{ID: "d1", Action: sounding.ActChooseSheet, Field: text.SHA256, Value: "own", Reason: "r", Who: "w"}
	if _, err := s.DecideGroup(ctx, workbench.Group{Action: sounding.ActChooseSheet, Field: text.SHA256, Value: "own", Reason: "r", Who: "w"}, []workbench.Blob{text}, []workbench.GroupAddition{a}); err != nil {
		t.Fatal(err)
	}
	f, err := s.Flight(ctx, "1")
	if err != nil || len(f.Sheets) != 1 || string(f.Sheets[0].Bytes) != string(text.Bytes) || f.Sheets[0].SHA256 != text.SHA256 {
		t.Errorf("%+v, %v", f.Sheets, err)
	}
	if f, err := s.Flight(ctx, "2"); err != nil || len(f.Sheets) != 0 {
		t.Errorf("%+v, %v", f.Sheets, err)
	}
}

func TestGroupsAreOnlyAddedTo(t *testing.T) {
	s := several(t, 1)
	if _, err := s.DecideGroup(ctx, group(), nil, []workbench.GroupAddition{part("1", 0, 0, 1)}); err != nil {
		t.Fatal(err)
	}
	if err := s.RevokeGroup(ctx, "g1", said, []workbench.GroupAddition{part("1", 1, 0, 1)}); err != nil {
		t.Fatal(err)
	}
	for _, table := range []string{"decision_group", "member", "group_revocation"} {
		for _, text := range []string{"delete from " + table, "update " + table + " set rowid = 7"} {
			if table == "member" || table == "group_revocation" {
				text = strings.Replace(text, "rowid", "decision_group", 1)
			}
			if _, err := s.write.Exec(text); err == nil || !strings.Contains(err.Error(), "cannot be") {
				t.Errorf("%s: %v", text, err)
			}
		}
	}
}

// Several programs decide for the same flights at once: each flight belongs to one of them.
func TestGroupsThatMeetAreRefusedWhole(t *testing.T) {
	s := several(t, 20)
	var wait sync.WaitGroup
	var mu sync.Mutex
	stored := 0
	for range 4 {
		wait.Go(func() {
			var parts []workbench.GroupAddition
			for i := range 20 {
				parts = append(parts, part(fmt.Sprint(i+1), 0, 0, 1))
			}
			_, err := s.DecideGroup(ctx, group(), nil, parts)
			mu.Lock()
			defer mu.Unlock()
			var refused *workbench.GroupError
			switch {
			case err == nil:
				stored++
			case !errors.As(err, &refused) || len(refused.Flights) != 20:
				t.Errorf("%v", err)
			}
		})
	}
	wait.Wait()
	if stored != 1 {
		t.Errorf("stored %d times", stored)
	}
}
