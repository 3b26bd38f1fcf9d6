package workbench_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"testing"
	"time"

	"leadline/internal/api/apitest"
	"leadline/internal/export"
	"leadline/internal/sounding"
	"leadline/internal/store"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

var signedAt = time.Date(2031, 6, 4, 10, 12, 0, 0, time.UTC)

func logbook(t *testing.T) (*workbench.Bench, *store.Store, string) {
	t.Helper()
	b, s, err := apitest.Open(t.TempDir(), func() time.Time { return signedAt })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	// A flight with open findings: its declared release is late and its temperature spiky.
	ids, err := apitest.Add(context.Background(), b, []apitest.Flight{{Site: "reed bay", Climate: truth.Marine, Day: true, Sheet: "single-humidity",
		Faults: []truth.Fault{{Name: "declared-release-late"}, {Name: "temperature-spikes"}}}})
	if err != nil {
		t.Fatal(err)
	}
	return b, s, ids[0]
}

func state(t *testing.T, b *workbench.Bench) workbench.Row {
	t.Helper()
	rows, err := b.Rows(context.Background())
	if err != nil || len(rows) != 1 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	return rows[0]
}

func TestSigningWhatIsOpenMustBeSaidTwice(t *testing.T) {
	ctx := context.Background()
	b, _, id := logbook(t)
	o, revision, err := b.Open(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	open := len(workbench.OpenFindings(o.Final))
	if open == 0 {
		t.Fatal("the flight has nothing open: the test proves nothing")
	}
	var against *workbench.OpenError
	if _, _, err := b.Sign(ctx, id, workbench.SignRequest{Who: "A. Reviewer", Note: "fine"}, revision); !errors.As(err, &against) || len(against.Open) != open {
		t.Fatalf("%v", err)
	}
	var refused *workbench.RefusedError
	if _, _, err := b.Sign(ctx, id, workbench.SignRequest{Who: "A. Reviewer", DespiteOpen: true}, revision); !errors.As(err, &refused) || !strings.Contains(err.Error(), "note") {
		t.Fatalf("without a note: %v", err)
	}
	if _, _, err := b.Sign(ctx, id, workbench.SignRequest{Who: " ", Note: "x", DespiteOpen: true}, revision); !errors.As(err, &refused) || !strings.Contains(err.Error(), "name") {
		t.Fatalf("without a name: %v", err)
	}
	if r := state(t, b); r.State != sounding.StateNew || r.Signer != "" || r.Revision != 0 {
		t.Errorf("a refused signature left %+v", r)
	}
	signed, now, err := b.Sign(ctx, id, workbench.SignRequest{Who: "A. Reviewer", Note: "spikes are the string", DespiteOpen: true}, revision)
	if err != nil || now != 1 {
		t.Fatal(now, err)
	}
	s := signed.Final.SignOff
	if s.State != sounding.StateSigned || s.Signature.Open != open || s.Signature.Revision != 0 || s.Signature.Verdict != o.Final.Verdict.Word || s.Signature.MethodSet != o.Final.MethodSet || !s.Signature.When.Equal(signedAt) {
		t.Errorf("%+v", s)
	}
	if line := s.Line(); line != "signed off by A. Reviewer, 2031-06-04 10:12 UTC: spikes are the string" {
		t.Error(line)
	}
	if r := state(t, b); r.State != sounding.StateSigned || r.Signer != "A. Reviewer" || !r.Signed.Equal(signedAt) {
		t.Errorf("%+v", r)
	}
}

// The digest is what anybody gets from the exported files with any tool.
func TestTheDigestIsThatOfTheExportedFiles(t *testing.T) {
	ctx := context.Background()
	b, _, id := logbook(t)
	o, _, err := b.Sign(ctx, id, workbench.SignRequest{Who: "A. Reviewer", Note: "n", DespiteOpen: true}, 0)
	if err != nil {
		t.Fatal(err)
	}
	var files bytes.Buffer
	f := &export.Flight{Final: o.Final, Levels: o.Levels}
	if err := errors.Join(export.CSV(&files, f), export.LevelsCSV(&files, f)); err != nil {
		t.Fatal(err)
	}
	files.WriteString("verdict " + o.Final.Verdict.Word + "\n")
	sum := sha256.Sum256(files.Bytes())
	if got := o.Final.SignOff.Signature.Digest; got != hex.EncodeToString(sum[:]) {
		t.Errorf("digest %s", got)
	}
}

func TestASignedFlightIsLockedForTheBench(t *testing.T) {
	ctx := context.Background()
	b, _, id := logbook(t)
	d := sounding.Decision{Action: sounding.ActNote, Reason: "r", Who: "w"}
	if _, _, _, err := b.Decide(ctx, id, d, 0); err != nil {
		t.Fatal(err)
	}
	if _, _, err := b.Sign(ctx, id, workbench.SignRequest{Who: "A. Reviewer", Note: "n", DespiteOpen: true}, 0); !errors.As(err, new(*workbench.StaleError)) {
		t.Errorf("a signature on an older revision: %v", err)
	}
	before, revision, err := b.Sign(ctx, id, workbench.SignRequest{Who: "A. Reviewer", Note: "n", DespiteOpen: true}, 1)
	if err != nil {
		t.Fatal(err)
	}
	said := sounding.Revoked{Reason: "r", Who: "w"}
	for what, do := range map[string]func() error{
		"decide": func() error { _, _, _, err := b.Decide(ctx, id, d, revision); return err },
		"revoke": func() error { _, _, err := b.Revoke(ctx, id, "d1", said, revision); return err },
		"undo":   func() error { _, _, _, err := b.Undo(ctx, id, said, revision); return err },
		"redo":   func() error { _, _, _, err := b.Redo(ctx, id, said, revision); return err },
		"sign": func() error {
			_, _, err := b.Sign(ctx, id, workbench.SignRequest{Who: "B. Other", Note: "n", DespiteOpen: true}, revision)
			return err
		},
	} {
		var signed *workbench.SignedError
		if err := do(); !errors.As(err, &signed) || signed.Signature.Who != "A. Reviewer" {
			t.Errorf("%s: %v", what, err)
		}
	}
	if now, at, err := b.Open(ctx, id); err != nil || at != revision || !same(before, now) {
		t.Errorf("revision %d, %v", at, err)
	}
	o, revision, err := b.Reopen(ctx, id, sounding.Reopening{Reason: "a late file", Who: "B. Other"}, revision)
	if err != nil || o.Final.SignOff.State != sounding.StateInReview || o.Final.SignOff.Reopened.Who != "B. Other" {
		t.Fatalf("%+v, %v", o, err)
	}
	if r := state(t, b); r.State != sounding.StateInReview || r.Signer != "" {
		t.Errorf("%+v", r)
	}
	undone, o, revision, err := b.Undo(ctx, id, said, revision)
	if err != nil || undone != "d1" || o.Final.Decisions[0].Revoked == nil {
		t.Fatal(undone, err)
	}
	redone, o, _, err := b.Redo(ctx, id, said, revision)
	if err != nil || redone != "d1" || o.Final.Decisions[0].Revoked != nil || len(o.History) != 5 {
		t.Fatal(redone, err)
	}
}

// What was signed with other methods or came out otherwise is said to differ, in the
// flight and in the list.
func TestWhatDiffersFromWhatWasSignedIsSaid(t *testing.T) {
	ctx := context.Background()
	b, s, id := logbook(t)
	o, _, err := b.Open(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	digest, err := workbench.Digest(o)
	if err != nil {
		t.Fatal(err)
	}
	revision := 0
	for _, c := range []struct {
		name           string
		digest, method string
		state, says    string
	}{
		{"as signed", digest, o.Final.MethodSet, sounding.StateSigned, ""},
		{"other values", strings.Repeat("0", 64), o.Final.MethodSet, sounding.StateDiffers, "what is computed now is not what was signed"},
		{"other methods, same values", digest, "0.0.1+00000000", sounding.StateDiffers, "gives the same values"},
		{"other methods and values", strings.Repeat("0", 64), "0.0.1+00000000", sounding.StateDiffers, "signed with method set 0.0.1+00000000"},
	} {
		if revision, err = s.Sign(ctx, id, sounding.Signature{Who: "A. Reviewer", When: signedAt, Digest: c.digest, MethodSet: c.method, Verdict: "look"}, revision); err != nil {
			t.Fatal(err)
		}
		now, _, err := b.Open(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		says := strings.Join(now.Final.SignOff.Differs, "; ")
		if now.Final.SignOff.State != c.state || (c.says == "") != (says == "") || !strings.Contains(says, c.says) {
			t.Errorf("%s: %s, %q", c.name, now.Final.SignOff.State, says)
		}
		if r := state(t, b); r.State != c.state {
			t.Errorf("%s: the list says %s", c.name, r.State)
		}
		if revision, err = s.Reopen(ctx, id, sounding.Reopening{Who: "w", Reason: "r"}, revision); err != nil {
			t.Fatal(err)
		}
	}
	// A row written by a version whose methods were the signed ones is looked at anew by this one.
	if _, err = s.Sign(ctx, id, sounding.Signature{Who: "A. Reviewer", When: signedAt, Digest: digest, MethodSet: "0.0.1+00000000", Verdict: "look"}, revision); err != nil {
		t.Fatal(err)
	}
	row := state(t, b)
	row.State, row.MethodSet = sounding.StateSigned, "0.0.1+00000000"
	if err := s.PutRow(ctx, row); err != nil {
		t.Fatal(err)
	}
	if r := state(t, b); r.State != sounding.StateDiffers {
		t.Errorf("the list of a newer version says %s", r.State)
	}
}

func TestADecisionOnAFindingThatIsNotThereIsRefused(t *testing.T) {
	ctx := context.Background()
	b, _, id := logbook(t)
	o, _, err := b.Open(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	known := workbench.OpenFindings(o.Final)[0].ID
	for _, action := range []sounding.Action{sounding.ActAccept, sounding.ActDismiss} {
		d := sounding.Decision{Action: action, Field: known + "x", Reason: "r", Who: "w"}
		var unknown *workbench.UnknownFindingError
		if _, _, _, err := b.Decide(ctx, id, d, 0); !errors.As(err, &unknown) || unknown.Nearest[0] != known || !strings.Contains(err.Error(), known) {
			t.Errorf("%s: %v", action, err)
		}
		if _, _, err := b.Preview(ctx, id, d); !errors.As(err, &unknown) {
			t.Errorf("preview of %s: %v", action, err)
		}
	}
	if r := state(t, b); r.Revision != 0 {
		t.Errorf("revision %d", r.Revision)
	}
	if _, _, _, err := b.Decide(ctx, id, sounding.Decision{Action: sounding.ActAccept, Field: known, Reason: "r", Who: "w"}, 0); err != nil {
		t.Error(err)
	}
	// At an older revision what changed is said, not that a finding is unknown.
	if _, _, _, err := b.Decide(ctx, id, sounding.Decision{Action: sounding.ActAccept, Field: "nothing", Reason: "r", Who: "w"}, 0); !errors.As(err, new(*workbench.StaleError)) {
		t.Error(err)
	}
}

func BenchmarkDigest(b *testing.B) {
	file, record := simulated(b)
	l, err := workbench.Load([]workbench.File{file}, workbench.Request{Record: record})
	if err != nil {
		b.Fatal(err)
	}
	o, err := workbench.Run(l[0].Inputs)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := workbench.Digest(o); err != nil {
			b.Fatal(err)
		}
	}
}
