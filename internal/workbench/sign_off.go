package workbench

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"leadline/internal/export"
	"leadline/internal/sounding"
)

// OpenFindings returns the findings above a note that nobody has accepted or dismissed.
func OpenFindings(f *sounding.Final) []sounding.Finding {
	var out []sounding.Finding
	for _, finding := range f.Findings {
		if finding.Severity > sounding.Note && finding.State == "" {
			out = append(out, finding)
		}
	}
	return out
}

// Digest returns the SHA-256, in lower-case hexadecimal, of what is signed: the bytes of
// the flight's CSV file (every value, flag, uncertainty and check that fired), then those of
// its levels' CSV file, then the line "verdict accept". Anybody can compute it from exported
// files with any tool; it does not depend on name, decisions, notes or the signature itself,
// nor on differences below the decimals of the files.
func Digest(o *Outcome) (string, error) {
	sum := sha256.New()
	f := &export.Flight{Final: o.Final, Levels: o.Levels}
	if err := export.CSV(sum, f); err != nil {
		return "", err
	}
	if err := export.LevelsCSV(sum, f); err != nil {
		return "", err
	}
	if _, err := io.WriteString(sum, "verdict "+o.Final.Verdict.Word+"\n"); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// digest returns the digest of what a signed flight gives at a revision, "" where it has
// not been made yet: it is made once, however often the flight is opened.
func (b *Bench) digest(id string, revision int) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.digests[id+"@"+strconv.Itoa(revision)]
}

func (b *Bench) keepDigest(id string, revision int, digest string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.digests == nil {
		b.digests = map[string]string{}
	}
	b.digests[id+"@"+strconv.Itoa(revision)] = digest
}

// noteSignOff keeps the digest of a signed flight. Where it is not what was signed the list
// is to say so as well; where that cannot be written the flight's page still does.
func (b *Bench) noteSignOff(ctx context.Context, id string, revision int, o *Outcome) {
	s := &o.Final.SignOff
	if s.Signature == nil {
		return
	}
	b.keepDigest(id, revision, s.Now)
	if s.Now != s.Signature.Digest {
		_ = b.store.PutRow(ctx, rowOf(o, id, revision))
	}
}

// signOff says where a flight of the logbook stands; digest is that of what is computed now,
// "" where it has not been made.
func signOff(o *Outcome, digest string) (sounding.SignOff, error) {
	now := Replay(o.History)
	s := sounding.SignOff{State: sounding.StateNew, Signature: now.Signature, Reopened: now.Reopened}
	if now.Undo != "" || now.Reopened != nil {
		s.State = sounding.StateInReview
	}
	if now.Signature == nil {
		return s, nil
	}
	s.State = sounding.StateSigned
	if digest == "" {
		var err error
		if digest, err = Digest(o); err != nil {
			return s, err
		}
	}
	s.Now = digest
	if digest != now.Signature.Digest {
		s.Differs = append(s.Differs, "what is computed now is not what was signed")
		if now.Signature.Verdict != o.Final.Verdict.Word {
			s.Differs[0] += fmt.Sprintf(": the verdict was %s and is %s", now.Signature.Verdict, o.Final.Verdict.Word)
		}
	}
	if now.Signature.MethodSet != o.Final.MethodSet {
		s.Differs = append(s.Differs, otherMethods(now.Signature.MethodSet, o.Final.MethodSet))
		if digest == now.Signature.Digest {
			s.Differs[0] += ", and gives the same values, flags, levels and verdict"
		}
	}
	if len(s.Differs) > 0 {
		s.State = sounding.StateDiffers
	}
	return s, nil
}

func otherMethods(then, now string) string {
	return fmt.Sprintf("it was signed with method set %s, this is %s", then, now)
}

// againstToday says where a row was made by other methods than those that hold today, and
// marks that of a signed flight whose methods have changed since it was signed. The row
// itself was made when the flight last moved, maybe by another version of the program.
func (b *Bench) againstToday(ctx context.Context, r *Row) {
	b.mu.Lock()
	methods := r.Methods + " " + r.ChosenSheet + " " + r.ChosenSettings
	set, known := b.sets[methods]
	b.mu.Unlock()
	if !known {
		f, err := b.store.Flight(ctx, r.ID)
		if err != nil {
			return // opening the flight says what is wrong with it
		}
		if set, err = methodSetOf(f); err != nil {
			return
		}
		b.mu.Lock()
		if b.sets == nil {
			b.sets = map[string]string{}
		}
		b.sets[methods] = set
		b.mu.Unlock()
	}
	r.MethodSetNow = ""
	if set != r.MethodSet {
		r.MethodSetNow = set
	}
	if r.Signer != "" && set != r.SignedBy {
		r.State = sounding.StateDiffers
	}
}

// methodSetOf is the method set a stored flight is processed with now.
func methodSetOf(f StoredFlight) (string, error) {
	in := Inputs{}
	file, _ := f.SettingsInForce()
	settings, err := settingsOf(file)
	if err != nil {
		return "", err
	}
	if len(f.Sheet.Bytes) > 0 {
		if in.Sheet, err = sounding.ReadSheet(f.Sheet.Name, f.Sheet.Bytes); err != nil {
			return "", err
		}
	}
	if in.Sheets, err = sheetsOf(f.Sheets); err != nil {
		return "", err
	}
	sheet, _ := chosenSheet(in, inForce(f.Decisions))
	return MethodSet(settings, sheet), nil
}

// SignRequest is what a person says when signing.
type SignRequest struct {
	Who  string
	Note string
	// DespiteOpen says that the person knows what is open or that the verdict is refuse,
	// and signs all the same; the note says why.
	DespiteOpen bool
}

// OpenError says what stands against signing a flight. It may be signed all the same, when
// that is said together with a note.
type OpenError struct {
	Flight  string
	Verdict sounding.Verdict
	Open    []sounding.Finding
}

func (e *OpenError) Error() string {
	var parts []string
	if e.Verdict.Word == sounding.Refuse {
		parts = append(parts, "its verdict is refuse: "+e.Verdict.Line)
	}
	switch n := len(e.Open); {
	case n == 1:
		parts = append(parts, "1 finding is open: "+e.Open[0].Sentence)
	case n > 1:
		parts = append(parts, fmt.Sprintf("%d findings are open, the first: %s", n, e.Open[0].Sentence))
	}
	return fmt.Sprintf("flight %s is not signed: %s", e.Flight, strings.Join(parts, "; "))
}

// Sign locks a flight as it stands at the revision the caller has seen. A signature on an
// older one is refused with what changed (*StaleError), one on a flight that is signed
// already as well (*SignedError). *OpenError where findings are open or the verdict is
// refuse and that was not said to be known.
func (b *Bench) Sign(ctx context.Context, id string, q SignRequest, seen int) (*Outcome, int, error) {
	s := sounding.Signature{Who: strings.TrimSpace(q.Who), Note: strings.TrimSpace(q.Note), When: b.now().UTC().Truncate(time.Millisecond)}
	if s.Who == "" {
		return nil, 0, &RefusedError{"a signature needs a name: who signs?"}
	}
	o, revision, err := b.Open(ctx, id)
	if err != nil {
		return nil, 0, err
	}
	if revision == seen && o.Final.SignOff.Signature == nil { // else the store says what is wrong
		open := OpenFindings(o.Final)
		if len(open) > 0 || o.Final.Verdict.Word == sounding.Refuse {
			if !q.DespiteOpen {
				return nil, 0, &OpenError{Flight: id, Verdict: o.Final.Verdict, Open: open}
			}
			if s.Note == "" {
				return nil, 0, &RefusedError{fmt.Sprintf("flight %s is not signed: signing it with open findings or against its verdict needs a note that says why", id)}
			}
		}
		if s.Digest, err = Digest(o); err != nil {
			return nil, 0, err
		}
		s.MethodSet, s.Verdict, s.Open = o.Final.MethodSet, o.Final.Verdict.Word, len(open)
	}
	signed, err := b.store.Sign(ctx, id, s, seen)
	if err != nil {
		return nil, 0, err
	}
	b.keepDigest(id, signed, s.Digest) // a signature changes nothing that is computed
	return b.refresh(ctx, id)
}

// Reopen lifts the signature in force, under the same rule.
func (b *Bench) Reopen(ctx context.Context, id string, r sounding.Reopening, seen int) (*Outcome, int, error) {
	if r.When.IsZero() {
		r.When = b.now().UTC().Truncate(time.Millisecond)
	}
	if strings.TrimSpace(r.Who) == "" || strings.TrimSpace(r.Reason) == "" {
		return nil, 0, &RefusedError{"reopening a flight needs a name and a reason"}
	}
	if _, err := b.store.Reopen(ctx, id, r, seen); err != nil {
		return nil, 0, err
	}
	return b.refresh(ctx, id)
}

// History returns every step of a flight in order.
func (b *Bench) History(ctx context.Context, id string) ([]Ruling, error) {
	f, err := b.store.Flight(ctx, id)
	return f.History, err
}
