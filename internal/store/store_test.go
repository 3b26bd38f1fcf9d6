package store

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

var ctx = context.Background()

func blobOf(name string, b []byte) workbench.Blob {
	sum := sha256.Sum256(b)
	return workbench.Blob{Name: name, SHA256: hex.EncodeToString(sum[:]), Bytes: b}
}

func flight(n int) (workbench.StoredFlight, workbench.Row) {
	text := bytes.Repeat([]byte(fmt.Sprintf("2031-06-03T23:04:11Z, %d, 950.1, 12.4\n", n)), 200)
	noise := make([]byte, 3000)
	r := rand.New(rand.NewPCG(uint64(n), 9))
	for i := range noise {
		noise[i] = byte(r.Uint32())
	}
	f := workbench.StoredFlight{Name: fmt.Sprintf("north-%d", n), Fingerprint: fmt.Sprintf("print-%d", n),
		Sources: []workbench.StoredSource{{Source: blobOf("a.txt", text), Recipe: blobOf("r.toml", []byte("name = \"r\""))},
			{Source: blobOf("b.bin", noise), Recipe: blobOf("r.toml", []byte("name = \"r\"")), Part: 1,
				Date: time.Date(2031, 6, 3, 0, 0, 0, 0, time.UTC), Zone: "America/Lima"}},
		Record: blobOf("launch.toml", []byte("[site]\nname = \"North\"\n")), Added: time.Date(2031, 6, 4, 1, 2, 3, 0, time.UTC)}
	row := workbench.Row{Name: f.Name, Verdict: "look", Top: 31000, TopHPa: sounding.NotSet}
	return f, row
}

func open(t *testing.T, path string) *Store {
	t.Helper()
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestAFlightComesBackToTheByte(t *testing.T) {
	path := filepath.Join(t.TempDir(), "log book?#%.db")
	s := open(t, path)
	f, row := flight(1)
	id, err := s.AddFlight(ctx, f, row)
	if err != nil || id != "1" {
		t.Fatalf("id %q, %v", id, err)
	}
	s.Close()
	if _, err := os.Stat(path); err != nil {
		t.Fatalf("the logbook is not where it was asked for: %v", err)
	}
	got, err := open(t, path).Flight(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if got.Name != f.Name || got.Fingerprint != f.Fingerprint || !got.Added.Equal(f.Added) || len(got.Sources) != 2 || got.Sources[1].Part != 1 {
		t.Errorf("%+v", got)
	}
	if !got.Sources[1].Date.Equal(f.Sources[1].Date) || got.Sources[1].Zone != "America/Lima" || !got.Sources[0].Date.IsZero() {
		t.Errorf("what the user said about the sources: %+v", got.Sources)
	}
	for i := range f.Sources {
		if !bytes.Equal(got.Sources[i].Source.Bytes, f.Sources[i].Source.Bytes) || got.Sources[i].Source.Name != f.Sources[i].Source.Name ||
			got.Sources[i].Source.SHA256 != f.Sources[i].Source.SHA256 || !bytes.Equal(got.Sources[i].Recipe.Bytes, f.Sources[i].Recipe.Bytes) {
			t.Errorf("source %d differs", i)
		}
	}
	if !bytes.Equal(got.Record.Bytes, f.Record.Bytes) || len(got.Sheet.Bytes) != 0 || len(got.Settings.Bytes) != 0 {
		t.Errorf("record %q sheet %q settings %q", got.Record.Bytes, got.Sheet.Bytes, got.Settings.Bytes)
	}
}

func TestTheSameBytesAreKeptOnce(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	f, row := flight(1)
	for n := range 3 { // three flights in the same two sources
		f.Fingerprint, f.Sources[1].Part = fmt.Sprint(n), n
		if _, err := s.AddFlight(ctx, f, row); err != nil {
			t.Fatal(err)
		}
	}
	var n int
	if err := s.read.QueryRow("select count(*) from blob").Scan(&n); err != nil {
		t.Fatal(err)
	}
	if n != 5 { // two sources, one recipe, one record, and the empty one
		t.Errorf("%d blobs, want 5", n)
	}
	ids, err := s.Find(ctx, f.Sources[1].Source.SHA256, "")
	if err != nil || len(ids) != 3 {
		t.Errorf("Find by bytes: %v, %v", ids, err)
	}
	if ids, _ = s.Find(ctx, "", "2"); len(ids) != 1 {
		t.Errorf("Find by fingerprint: %v", ids)
	}
	if ids, _ = s.Find(ctx, "", ""); len(ids) != 0 {
		t.Errorf("Find of nothing: %v", ids)
	}
}

func TestDamagedBytesAreRefused(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	f, row := flight(1)
	id, err := s.AddFlight(ctx, f, row)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("update blob set bytes = x'00', packed = 0 where sha256 = ?", f.Sources[0].Source.SHA256); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Flight(ctx, id); err == nil || !strings.Contains(err.Error(), "damaged") {
		t.Errorf("damaged bytes gave %v", err)
	}
}

func TestDecisionsAreReplayedInOrder(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	f, row := flight(1)
	id, _ := s.AddFlight(ctx, f, row)
	at := time.Date(2031, 6, 3, 23, 10, 0, 0, time.UTC)
	d := sounding.Decision{Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.Humidity}, From: at, To: at.Add(time.Minute), Reason: "ice", Who: "a"}
	first, revision, err := s.Decide(ctx, id, d, 0)
	if err != nil || first.ID != "d1" || revision != 1 {
		t.Fatalf("%+v, %d, %v", first, revision, err)
	}
	if _, revision, err = s.Decide(ctx, id, d, 1); err != nil || revision != 2 {
		t.Fatal(revision, err)
	}
	if revision, err = s.Revoke(ctx, id, "d1", sounding.Revoked{Reason: "wrong flight", Who: "b", When: at}, 2); err != nil || revision != 3 {
		t.Fatal(revision, err)
	}
	got, err := s.Flight(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	if got.Revision != 3 || len(got.Decisions) != 2 || got.Decisions[0].Revoked == nil || got.Decisions[0].Revoked.Who != "b" || got.Decisions[1].Revoked != nil {
		t.Errorf("%+v", got.Decisions)
	}
	if !got.Decisions[1].From.Equal(at) || got.Decisions[1].Variables[0] != sounding.Humidity {
		t.Errorf("%+v", got.Decisions[1])
	}
	if _, err := s.Revoke(ctx, id, "d1", sounding.Revoked{Reason: "r", Who: "b"}, 3); err == nil {
		t.Error("a decision was revoked twice")
	}
	if _, err := s.Revoke(ctx, id, "d9", sounding.Revoked{Reason: "r", Who: "b"}, 3); err == nil {
		t.Error("a decision that does not exist was revoked")
	}
}

func TestStaleDecisionsAreRefusedWithWhatChanged(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	f, row := flight(1)
	id, _ := s.AddFlight(ctx, f, row)
	d := sounding.Decision{Action: sounding.ActNote, Reason: "first", Who: "a"}
	if _, _, err := s.Decide(ctx, id, d, 0); err != nil {
		t.Fatal(err)
	}
	_, _, err := s.Decide(ctx, id, sounding.Decision{Action: sounding.ActNote, Reason: "second", Who: "b"}, 0)
	var stale *workbench.StaleError
	if !errors.As(err, &stale) || stale.Current != 1 || len(stale.Since) != 1 || stale.Since[0].Reason != "first" {
		t.Fatalf("%v", err)
	}
	got, _ := s.Flight(ctx, id)
	if len(got.Decisions) != 1 {
		t.Errorf("the stale decision was stored: %+v", got.Decisions)
	}
}

func TestTwoReviewersCannotBothWin(t *testing.T) {
	path := filepath.Join(t.TempDir(), "l.db")
	s := open(t, path)
	f, row := flight(1)
	id, _ := s.AddFlight(ctx, f, row)
	var wait sync.WaitGroup
	won := make(chan bool, 16)
	for i := range 8 {
		wait.Go(func() {
			other, err := Open(path)
			if err != nil {
				t.Error(err)
				return
			}
			defer other.Close()
			_, _, err = other.Decide(ctx, id, sounding.Decision{Action: sounding.ActNote, Reason: fmt.Sprint(i), Who: "w"}, 0)
			var stale *workbench.StaleError
			if err != nil && !errors.As(err, &stale) {
				t.Error(err)
			}
			won <- err == nil
		})
	}
	wait.Wait()
	close(won)
	n := 0
	for w := range won {
		if w {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d of 8 reviewers won, want 1", n)
	}
}

func TestUnknownFlights(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	for _, id := range []string{"1", "0", "-1", "x", "", "1; drop table flight"} {
		if _, err := s.Flight(ctx, id); !errors.Is(err, workbench.ErrNoFlight) {
			t.Errorf("%q: %v", id, err)
		}
		if _, _, err := s.Decide(ctx, id, sounding.Decision{}, 0); !errors.Is(err, workbench.ErrNoFlight) {
			t.Errorf("%q: %v", id, err)
		}
	}
}

func TestRowsAreStaleUntilTheyAreWrittenAnew(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "l.db"))
	f, row := flight(1)
	id, _ := s.AddFlight(ctx, f, row)
	rows, err := s.Rows(ctx)
	if err != nil || len(rows) != 1 || rows[0].Stale || rows[0].Top != 31000 || rows[0].TopHPa.Set() {
		t.Fatalf("%+v, %v", rows, err)
	}
	if _, _, err := s.Decide(ctx, id, sounding.Decision{Action: sounding.ActNote, Reason: "r", Who: "w"}, 0); err != nil {
		t.Fatal(err)
	}
	if rows, _ = s.Rows(ctx); !rows[0].Stale {
		t.Error("a row made before a decision is not stale")
	}
	rows[0].Stale = false
	if err := s.PutRow(ctx, rows[0]); err != nil {
		t.Fatal(err)
	}
	if rows, _ = s.Rows(ctx); rows[0].Stale {
		t.Error("a row written after the decision is stale")
	}
}

func TestForeignAndNewerFilesAreRefused(t *testing.T) {
	dir := t.TempDir()
	garbage := filepath.Join(dir, "garbage.db")
	if err := os.WriteFile(garbage, bytes.Repeat([]byte("no database "), 500), 0o600); err != nil {
		t.Fatal(err)
	}
	foreign := filepath.Join(dir, "foreign.db")
	db, err := sql.Open("sqlite", "file:"+foreign)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("create table other (x)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	newer := filepath.Join(dir, "newer.db")
	s := open(t, newer)
	if _, err := s.write.Exec("pragma user_version = 99"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	for path, want := range map[string]string{garbage: "not a logbook", foreign: "another program", newer: "newer leadline"} {
		before, _ := os.ReadFile(path)
		_, err := Open(path)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", filepath.Base(path), err, want)
		}
		if after, _ := os.ReadFile(path); path == garbage && !bytes.Equal(before, after) {
			t.Error("a file that is no logbook was changed")
		}
	}
}

// writerEnv makes the test binary a writer that is killed while it works.
const writerEnv = "LEADLINE_TEST_WRITER"

func TestMain(m *testing.M) {
	if path := os.Getenv(writerEnv); path != "" {
		s, err := Open(path)
		if err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		for n := 0; ; n++ {
			f, row := flight(os.Getpid()*1000 + n)
			id, err := s.AddFlight(ctx, f, row)
			if err != nil {
				fmt.Println("error", err)
				os.Exit(1)
			}
			fmt.Println("added", id, f.Sources[0].Source.SHA256) // acknowledged
			if _, revision, err := s.Decide(ctx, id, sounding.Decision{Action: sounding.ActNote, Reason: "r", Who: "w"}, 0); err == nil {
				fmt.Println("decided", id, revision)
			}
		}
	}
	os.Exit(m.Run())
}

// A process that is killed at any moment loses nothing that it acknowledged, and leaves
// nothing half written.
func TestKilledWriterLosesNothingItAcknowledged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "l.db")
	type promise struct{ kind, id, what string }
	var promises []promise
	for round := range 8 {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), writerEnv+"="+path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		wanted := 5 + 7*round // kill after a different number of lines each round
		for n := 0; n < wanted && lines.Scan(); n++ {
			w := strings.Fields(lines.Text())
			if len(w) != 3 {
				t.Fatalf("the writer says %q", lines.Text())
			}
			promises = append(promises, promise{w[0], w[1], w[2]})
		}
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		for lines.Scan() { // what it said between the last line read and its end counts too
			if w := strings.Fields(lines.Text()); len(w) == 3 {
				promises = append(promises, promise{w[0], w[1], w[2]})
			}
		}
		cmd.Wait()
	}
	s := open(t, path)
	var verdict string
	if err := s.read.QueryRow("pragma integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
		t.Fatalf("integrity check: %s, %v", verdict, err)
	}
	for _, p := range promises {
		f, err := s.Flight(ctx, p.id)
		if err != nil {
			t.Fatalf("flight %s was acknowledged and is gone: %v", p.id, err)
		}
		switch p.kind {
		case "added":
			if f.Sources[0].Source.SHA256 != p.what || len(f.Sources) != 2 {
				t.Errorf("flight %s has other bytes than acknowledged", p.id)
			}
		case "decided":
			if len(f.Decisions) != 1 || fmt.Sprint(f.Revision) != p.what {
				t.Errorf("flight %s: %d decisions, revision %d, acknowledged %s", p.id, len(f.Decisions), f.Revision, p.what)
			}
		}
	}
	if len(promises) < 40 {
		t.Errorf("only %d promises were tested", len(promises))
	}
	rows, err := s.Rows(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if _, err := s.Flight(ctx, r.ID); err != nil {
			t.Errorf("flight %s is half written: %v", r.ID, err)
		}
	}
}

func BenchmarkAddFlight(b *testing.B) {
	s, err := Open(filepath.Join(b.TempDir(), "l.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	n := 0
	for b.Loop() {
		n++
		f, row := flight(n)
		f.Sources[0].Source = blobOf("big.txt", bytes.Repeat([]byte(fmt.Sprintf("row %d of a text source with some numbers 12.3 4.5\n", n)), 20000))
		if _, err := s.AddFlight(ctx, f, row); err != nil {
			b.Fatal(err)
		}
	}
}
