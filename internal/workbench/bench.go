package workbench

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
)

// Bench is the one way in for command line and server: it reads flights, runs the path
// and keeps decisions in a store. It is safe for use by several goroutines.
type Bench struct {
	store   Store
	now     func() time.Time
	mu      sync.Mutex
	kept    []keptOutcome     // the outcomes used last, newest at the end
	sets    map[string]string // method sets in force, by Row.Methods
	digests map[string]string // digests of signed flights, by ID and revision

	keeping sync.Mutex // one flight at a time asks whether it is known and is stored
}

// keptOutcome is an outcome with the revision it belongs to.
type keptOutcome struct {
	id       string
	revision int
	outcome  *Outcome
}

// keep is how many outcomes stay in memory: enough for moving between neighbours.
const keep = 4

// New returns a bench on a store; now is the clock that stamps decisions. store may be
// nil for a bench that only checks files.
func New(store Store, now func() time.Time) *Bench {
	return &Bench{store: store, now: now}
}

// Now is the bench's clock, which stamps what is written beside the logbook too.
func (b *Bench) Now() time.Time { return b.now() }

// File is a file with its name, without folder.
type File struct {
	Name  string
	Bytes []byte
}

// Request is what a user gives along with source files.
type Request struct {
	Recipe    File           // TOML text of a recipe; no bytes: found by content
	Record    File           // launch record, TOML or JSON; no bytes: nothing known
	Sheet     File           // TOML text of an instrument sheet; no bytes: the one the record names, if it ships
	Settings  File           // user's settings; no bytes: the shipped ones
	Options   ingest.Options // what the source does not say itself
	Join      bool           // all files are sources of one flight
	Decisions []sounding.Decision
}

// Loaded is one flight made ready for the path.
type Loaded struct {
	Inputs Inputs
	Stored StoredFlight // without ID and row
}

func blob(f File) Blob {
	if len(f.Bytes) == 0 {
		return Blob{}
	}
	return Blob{Name: f.Name, SHA256: sha256Text(f.Bytes), Bytes: f.Bytes}
}

// sha256Text is the SHA-256 of bytes in lower-case hexadecimal.
func sha256Text(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Load reads files into flights. Each file may hold several; with q.Join all of them
// are one flight. Nothing is stored.
func Load(files []File, q Request) ([]Loaded, error) {
	if len(files) == 0 && len(q.Record.Bytes) == 0 {
		return nil, errors.New("no source file and no launch record were given")
	}
	settings, err := settingsOf(q.Settings)
	if err != nil {
		return nil, err
	}
	record := sounding.NewLaunchRecord()
	var recordFindings []sounding.Finding
	if len(q.Record.Bytes) > 0 {
		if record, recordFindings, err = ingest.ReadRecord(q.Record.Name, q.Record.Bytes); err != nil {
			return nil, err
		}
	}
	options := q.Options
	options.Declared, options.Near = record.Release.Declared, record.Release.Nominal
	type part struct {
		raw    *sounding.Raw
		stored StoredSource
	}
	var parts []part
	for _, f := range files {
		raws, recipe, err := read(f, q.Recipe, options)
		if err != nil {
			return nil, err
		}
		for i, raw := range raws {
			parts = append(parts, part{raw, StoredSource{Source: blob(f), Recipe: recipe, Part: i, Date: options.Date, Base: options.Base, Zone: options.Zone}})
		}
	}
	var atHand map[string]*sounding.InstrumentSheet
	if slices.ContainsFunc(q.Decisions, func(d sounding.Decision) bool { return d.Action == sounding.ActChooseSheet }) {
		if atHand, err = shippedSheetsAtHand(); err != nil {
			return nil, err
		}
	}
	var out []Loaded
	add := func(raw *sounding.Raw, sources []StoredSource) error {
		raw.Findings = append(append([]sounding.Finding(nil), recordFindings...), raw.Findings...)
		sheet, sheetBlob, err := sheetOf(q.Sheet, mergedRecord(record, raw.Record))
		if err != nil {
			return err
		}
		fingerprint := ingest.Fingerprint(raw)
		if len(sources) == 0 {
			fingerprint = "record " + blob(q.Record).SHA256
		}
		out = append(out, Loaded{
			Inputs: Inputs{Raw: raw, Record: record, Sheet: sheet, Sheets: atHand, Settings: settings, Decisions: q.Decisions},
			Stored: StoredFlight{Fingerprint: fingerprint, Sources: sources, Record: blob(q.Record), Sheet: sheetBlob, Settings: blob(q.Settings)},
		})
		return nil
	}
	if len(files) == 0 {
		err := add(recordAlone(record), nil)
		return out, err
	}
	if q.Join && len(parts) > 1 {
		raws, sources := make([]*sounding.Raw, len(parts)), make([]StoredSource, len(parts))
		for i, p := range parts {
			raws[i], sources[i] = p.raw, p.stored
		}
		joined, err := ingest.Join(raws)
		if err != nil {
			return nil, err
		}
		err = add(joined, sources)
		return out, err
	}
	for _, p := range parts {
		if err := add(p.raw, []StoredSource{p.stored}); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func firstInstant(list ...time.Time) time.Time {
	for _, t := range list {
		if !t.IsZero() {
			return t
		}
	}
	return time.Time{}
}

func settingsOf(f File) (*Settings, error) {
	if len(f.Bytes) == 0 {
		return DefaultSettings(), nil
	}
	return ReadSettings(f.Name, f.Bytes)
}

// sheetOf returns the sheet in a file, else the shipped one the record names, else none.
func sheetOf(f File, record *sounding.LaunchRecord) (*sounding.InstrumentSheet, Blob, error) {
	if len(f.Bytes) > 0 {
		s, err := sounding.ReadSheet(f.Name, f.Bytes)
		return s, blob(f), err
	}
	name := record.Radiosonde.Sheet
	if name == "" {
		return nil, Blob{}, nil
	}
	s, text, err := sounding.ShippedSheet(name)
	if err != nil {
		return nil, Blob{}, err
	}
	return s, blob(File{Name: name + ".toml", Bytes: text}), nil
}

// Check reads files and runs the path on every flight in them; nothing is stored.
func Check(files []File, q Request) ([]*Outcome, error) { return CheckWith(files, q, nil) }

// CheckWith is Check with settings that have been read already; nil takes those of q.
func CheckWith(files []File, q Request, settings *Settings) ([]*Outcome, error) {
	loaded, err := Load(files, q)
	if err != nil {
		return nil, err
	}
	var out []*Outcome
	for _, l := range loaded {
		if settings != nil {
			l.Inputs.Settings = settings
		}
		o, err := Run(l.Inputs)
		if err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, nil
}

// Added says what became of one flight given to Add.
type Added struct {
	ID      string   `json:"id"` // its own, or that of the flight it was recognised as
	Row     Row      `json:"flight"`
	Known   string   `json:"known,omitempty"` // why nothing was stored: "same bytes", "same flight"
	Outcome *Outcome `json:"-"`
}

// Add reads files, runs the path and stores every flight that is not in the logbook
// yet. Bytes or a flight that is already there are recognised and not stored again.
func (b *Bench) Add(ctx context.Context, files []File, q Request) ([]Added, error) {
	ready, err := b.Prepare(ctx, files, q)
	if err != nil {
		return nil, err
	}
	return b.Keep(ctx, ready)
}

// Prepared is a flight that was read and run and is not stored yet.
type Prepared struct {
	loaded  Loaded
	outcome *Outcome // nil where the logbook holds the flight already
}

// Prepare is the first half of Add: all of the work and nothing stored. Many may run side
// by side.
func (b *Bench) Prepare(ctx context.Context, files []File, q Request) ([]Prepared, error) {
	loaded, err := Load(files, q)
	if err != nil {
		return nil, err
	}
	out := make([]Prepared, len(loaded))
	for i, l := range loaded {
		out[i].loaded = l
		known, _, err := b.known(ctx, l.Stored)
		if err != nil {
			return nil, err
		}
		if known != "" {
			continue
		}
		if out[i].outcome, err = Run(l.Inputs); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Keep is the second half of Add. Flights get their numbers in the order in which Keep is
// called, and one that came in since it was prepared is recognised.
func (b *Bench) Keep(ctx context.Context, ready []Prepared) ([]Added, error) {
	b.keeping.Lock()
	defer b.keeping.Unlock()
	var out []Added
	for _, p := range ready {
		a, err := b.keep(ctx, p)
		if err != nil {
			return out, err
		}
		out = append(out, a)
	}
	return out, nil
}

func (b *Bench) keep(ctx context.Context, p Prepared) (Added, error) {
	l, o := p.loaded, p.outcome
	known, why, err := b.known(ctx, l.Stored)
	if err != nil {
		return Added{}, err
	}
	if known != "" {
		row, err := b.row(ctx, known)
		return Added{ID: known, Row: row, Known: why}, err
	}
	if o == nil { // it was there and is no more
		if o, err = Run(l.Inputs); err != nil {
			return Added{}, err
		}
	}
	l.Stored.Name, l.Stored.Added = o.Final.FlightName, b.now().UTC()
	row := rowOf(o, "", 0)
	id, err := b.store.AddFlight(ctx, l.Stored, row)
	var already *AlreadyError
	if errors.As(err, &already) { // another process has stored it meanwhile
		row, err := b.row(ctx, already.ID)
		return Added{ID: already.ID, Row: row, Known: already.Why}, err
	}
	if err != nil {
		return Added{}, err
	}
	row.ID = id
	if o.Final.SignOff, err = signOff(o, ""); err != nil {
		return Added{}, err
	}
	return Added{ID: id, Row: row, Outcome: o}, nil
}

// known returns the flight of the logbook that a new one repeats, and why.
func (b *Bench) known(ctx context.Context, f StoredFlight) (id, why string, err error) {
	all := map[string]int{}
	for _, s := range f.Sources {
		ids, err := b.store.Find(ctx, s.Source.SHA256, "")
		if err != nil {
			return "", "", err
		}
		for _, id := range ids {
			all[id]++
		}
	}
	for id, n := range all {
		if n < len(f.Sources) {
			continue
		}
		other, err := b.store.Flight(ctx, id)
		if err != nil {
			return "", "", err
		}
		if sameParts(other.Sources, f.Sources) {
			return id, SameBytes, nil
		}
	}
	if f.Fingerprint == "" {
		return "", "", nil
	}
	ids, err := b.store.Find(ctx, "", f.Fingerprint)
	if err != nil || len(ids) == 0 {
		return "", "", err
	}
	return ids[0], SameFlight, nil
}

func sameParts(a, b []StoredSource) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i].Source.SHA256 != b[i].Source.SHA256 || a[i].Part != b[i].Part {
			return false
		}
	}
	return true
}

// inputsOf makes a stored flight ready for the path.
func inputsOf(f StoredFlight) (Inputs, error) {
	settings, err := settingsOf(File{f.Settings.Name, f.Settings.Bytes})
	if err != nil {
		return Inputs{}, err
	}
	record := sounding.NewLaunchRecord()
	var recordFindings []sounding.Finding
	if len(f.Record.Bytes) > 0 {
		if record, recordFindings, err = ingest.ReadRecord(f.Record.Name, f.Record.Bytes); err != nil {
			return Inputs{}, err
		}
	}
	var raws []*sounding.Raw
	for _, s := range f.Sources {
		options := ingest.Options{Date: s.Date, Base: s.Base, Zone: s.Zone, Declared: record.Release.Declared, Near: record.Release.Nominal}
		all, _, err := read(File{s.Source.Name, s.Source.Bytes}, File{s.Recipe.Name, s.Recipe.Bytes}, options)
		if err != nil {
			return Inputs{}, err
		}
		if s.Part >= len(all) {
			return Inputs{}, fmt.Errorf("%s: it holds %d flights, the logbook asks for number %d", s.Source.Name, len(all), s.Part+1)
		}
		raws = append(raws, all[s.Part])
	}
	raw := recordAlone(record)
	switch len(raws) {
	case 0:
	case 1:
		raw = raws[0]
	default:
		if raw, err = ingest.Join(raws); err != nil {
			return Inputs{}, err
		}
	}
	raw.Findings = append(append([]sounding.Finding(nil), recordFindings...), raw.Findings...)
	in := Inputs{Raw: raw, Record: record, Settings: settings, Decisions: f.Decisions}
	if len(f.Sheet.Bytes) > 0 {
		if in.Sheet, err = sounding.ReadSheet(f.Sheet.Name, f.Sheet.Bytes); err != nil {
			return Inputs{}, err
		}
	}
	if in.Sheets, err = sheetsOf(f.Sheets); err != nil {
		return Inputs{}, err
	}
	in.SettingsFiles, err = settingsFilesOf(f.SettingsFiles)
	return in, err
}

// Open returns a flight of the logbook after the path, and its revision.
func (b *Bench) Open(ctx context.Context, id string) (*Outcome, int, error) {
	f, err := b.store.Flight(ctx, id)
	if err != nil {
		return nil, 0, err
	}
	if o := b.recall(id, f.Revision); o != nil {
		return o, f.Revision, nil
	}
	digest := b.digest(id, f.Revision)
	o, err := openSigned(f, digest)
	if err != nil {
		return nil, 0, err
	}
	if digest == "" {
		b.noteSignOff(ctx, id, f.Revision, o)
	}
	b.remember(keptOutcome{id, f.Revision, o})
	return o, f.Revision, nil
}

// openStored runs a stored flight.
func openStored(f StoredFlight) (*Outcome, error) { return openSigned(f, "") }

// openSigned is openStored with the digest of what is computed now, where it has been made
// before.
func openSigned(f StoredFlight, digest string) (*Outcome, error) {
	in, err := inputsOf(f)
	if err != nil {
		return nil, fmt.Errorf("flight %s: %w", f.ID, err)
	}
	o, err := Run(in)
	if err != nil {
		return nil, fmt.Errorf("flight %s: %w", f.ID, err)
	}
	o.History = f.History
	if o.Final.SignOff, err = signOff(o, digest); err != nil {
		return nil, fmt.Errorf("flight %s: %w", f.ID, err)
	}
	return o, nil
}

func (b *Bench) recall(id string, revision int) *Outcome {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, k := range b.kept {
		if k.id == id && k.revision == revision {
			return k.outcome
		}
	}
	return nil
}

func (b *Bench) remember(k keptOutcome) {
	b.mu.Lock()
	defer b.mu.Unlock()
	kept := b.kept[:0:0]
	for _, old := range b.kept {
		if old.id != k.id {
			kept = append(kept, old)
		}
	}
	kept = append(kept, k)
	if len(kept) > keep {
		kept = kept[len(kept)-keep:]
	}
	b.kept = kept
}

// Source returns the bytes of a flight's source as they were received.
func (b *Bench) Source(ctx context.Context, id, sha256 string) (File, error) {
	f, err := b.store.Flight(ctx, id)
	if err != nil {
		return File{}, err
	}
	for _, s := range f.Sources {
		if s.Source.SHA256 == sha256 || sha256 == "" {
			return File{s.Source.Name, s.Source.Bytes}, nil
		}
	}
	return File{}, fmt.Errorf("flight %s has no source with SHA-256 %s", id, sha256)
}

// Stored returns a flight as the logbook keeps it, with its bytes and decisions.
func (b *Bench) Stored(ctx context.Context, id string) (StoredFlight, error) {
	return b.store.Flight(ctx, id)
}

// Rows returns the lines of the logbook, worst first: refuse, look, accept; within one
// verdict those with more open findings first, then the newest.
func (b *Bench) Rows(ctx context.Context) ([]Row, error) {
	rows, err := b.store.Rows(ctx)
	if err != nil {
		return nil, err
	}
	for i := range rows {
		if !rows[i].Stale {
			b.againstToday(ctx, &rows[i])
			continue
		}
		// The process that moved the flight on did not live to write its row.
		if _, _, err := b.refresh(ctx, rows[i].ID); err != nil {
			rows[i].Error = err.Error()
			continue
		}
		if rows[i], err = b.row(ctx, rows[i].ID); err != nil {
			return nil, err
		}
	}
	SortWorstFirst(rows)
	return rows, nil
}

func (b *Bench) row(ctx context.Context, id string) (Row, error) {
	rows, err := b.store.Rows(ctx)
	if err != nil {
		return Row{}, err
	}
	for _, r := range rows {
		if r.ID == id {
			return r, nil
		}
	}
	return Row{}, fmt.Errorf("flight %s: %w", id, ErrNoFlight)
}

// Resolve returns the ID of the flight a user means: its ID, its name, or an
// unambiguous beginning of its name.
func (b *Bench) Resolve(ctx context.Context, word string) (string, error) {
	rows, err := b.store.Rows(ctx)
	if err != nil {
		return "", err
	}
	var begins []Row
	for _, r := range rows {
		if r.ID == word || r.Name == word {
			return r.ID, nil
		}
		if word != "" && strings.HasPrefix(r.Name, word) {
			begins = append(begins, r)
		}
	}
	switch len(begins) {
	case 0:
		return "", fmt.Errorf("%q: %w: leadline list shows the %d it holds", word, ErrNoFlight, len(rows))
	case 1:
		return begins[0].ID, nil
	}
	names := make([]string, len(begins))
	for i, r := range begins {
		names[i] = r.Name
	}
	return "", fmt.Errorf("%q could be any of %s: write more of the name, or the number", word, strings.Join(names, ", "))
}

// Preview runs a flight as if d had been stored and returns what that would change.
func (b *Bench) Preview(ctx context.Context, id string, d sounding.Decision) (Difference, *Outcome, error) {
	if d.ID == "" {
		d.ID = "preview"
	}
	if err := d.Validate(); err != nil {
		return Difference{}, nil, err
	}
	before, _, err := b.Open(ctx, id)
	if err != nil {
		return Difference{}, nil, err
	}
	if err := errors.Join(before.knows(id, &d), before.inFlight(&d)); err != nil {
		return Difference{}, nil, err
	}
	in := before.Inputs
	in.Decisions = append(append([]sounding.Decision(nil), in.Decisions...), d)
	after, err := Run(in)
	if err != nil {
		return Difference{}, nil, err
	}
	return Compare(before, after), after, nil
}

// Decide stores a decision if the flight still stands at the revision the caller has
// seen, and returns it with its ID, the new outcome and the new revision.
func (b *Bench) Decide(ctx context.Context, id string, d sounding.Decision, seen int) (sounding.Decision, *Outcome, int, error) {
	if d.When.IsZero() {
		d.When = b.now().UTC().Truncate(time.Millisecond)
	}
	if strings.TrimSpace(d.Who) == "" {
		return d, nil, 0, errors.New("a decision needs a name: who decides?")
	}
	check := d
	if check.ID == "" {
		check.ID = "new"
	}
	if err := check.Validate(); err != nil {
		return d, nil, 0, err
	}
	if d.Action == sounding.ActCorrectRecord {
		if err := ingest.SetField(sounding.NewLaunchRecord(), d.Field, d.Value); err != nil {
			return d, nil, 0, err
		}
	}
	switch d.Action {
	case sounding.ActAccept, sounding.ActDismiss, sounding.ActSetRelease, sounding.ActSetBurst:
		o, revision, err := b.Open(ctx, id)
		if err != nil {
			return d, nil, 0, err
		}
		if revision == seen { // else the store refuses it, with what changed
			if err := errors.Join(o.knows(id, &d), o.inFlight(&d)); err != nil {
				return d, nil, 0, err
			}
		}
	}
	stored, _, err := b.store.Decide(ctx, id, d, seen)
	if err != nil {
		return d, nil, 0, err
	}
	o, revision, err := b.refresh(ctx, id)
	return stored, o, revision, err
}

// Revoke takes a decision back under the same rule as Decide.
func (b *Bench) Revoke(ctx context.Context, id, decision string, r sounding.Revoked, seen int) (*Outcome, int, error) {
	if err := b.complete(&r, "taking a decision back"); err != nil {
		return nil, 0, err
	}
	if _, err := b.store.Revoke(ctx, id, decision, r, seen); err != nil {
		return nil, 0, err
	}
	return b.refresh(ctx, id)
}

// Undo takes the last decision in force back under the same rule, and returns its ID.
func (b *Bench) Undo(ctx context.Context, id string, r sounding.Revoked, seen int) (string, *Outcome, int, error) {
	if err := b.complete(&r, "undo"); err != nil {
		return "", nil, 0, err
	}
	decision, _, err := b.store.Undo(ctx, id, r, seen)
	if err != nil {
		return "", nil, 0, err
	}
	o, revision, err := b.refresh(ctx, id)
	return decision, o, revision, err
}

// Redo puts the decision that was taken back last in force again, as long as nothing else
// has been decided since, and returns its ID.
func (b *Bench) Redo(ctx context.Context, id string, r sounding.Revoked, seen int) (string, *Outcome, int, error) {
	if err := b.complete(&r, "redo"); err != nil {
		return "", nil, 0, err
	}
	decision, _, err := b.store.Redo(ctx, id, r, seen)
	if err != nil {
		return "", nil, 0, err
	}
	o, revision, err := b.refresh(ctx, id)
	return decision, o, revision, err
}

// complete stamps what was said with the instant and refuses it where name or reason is missing.
func (b *Bench) complete(r *sounding.Revoked, what string) error {
	if r.When.IsZero() {
		r.When = b.now().UTC().Truncate(time.Millisecond)
	}
	if strings.TrimSpace(r.Who) == "" || strings.TrimSpace(r.Reason) == "" {
		return &RefusedError{what + " needs a name and a reason"}
	}
	return nil
}

// refresh runs a flight again and replaces its row.
func (b *Bench) refresh(ctx context.Context, id string) (*Outcome, int, error) {
	o, revision, err := b.Open(ctx, id)
	if err != nil {
		return nil, 0, err
	}
	return o, revision, b.store.PutRow(ctx, rowOf(o, id, revision))
}
