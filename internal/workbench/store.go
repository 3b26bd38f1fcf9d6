package workbench

import (
	"context"
	"errors"
	"fmt"
	"time"

	"leadline/internal/sounding"
)

// Blob is a text or file kept under the SHA-256 of its bytes.
type Blob struct {
	Name   string
	SHA256 string // lower-case hexadecimal
	Bytes  []byte
}

// StoredSource is one source of a flight with the recipe it is read by.
type StoredSource struct {
	Source Blob
	Recipe Blob
	Part   int // which flight of a source that holds several, from 0

	// What the user said about the source when it was added, and must be said again
	// whenever it is read; zero where nothing was.
	Date time.Time // day of the flight
	Base time.Time // instant of elapsed time zero
	Zone string    // IANA zone of the source's clock
}

// StoredFlight is everything a flight's outcome depends on, as kept in the logbook.
type StoredFlight struct {
	ID            string // given by the store: "1", "2", …
	Name          string
	Fingerprint   string // recognises the same flight under another name
	Sources       []StoredSource
	Record        Blob   // launch record as given; no bytes where none was
	Sheet         Blob   // instrument sheet as given; no bytes where none is known
	Sheets        []Blob // those that choose-sheet decisions name; filled when a flight is read
	Settings      Blob   // the user's settings file as given; no bytes where the shipped ones hold
	SettingsFiles []Blob // those that choose-settings decisions name; filled when a flight is read
	Added         time.Time
	Decisions     []sounding.Decision // in order; filled when a flight is read
	History       []Ruling            // every step in order; filled when a flight is read
	Revision      int                 // rises with every step
}

// Row is one line of the logbook: what a list shows without running the path.
type Row struct {
	ID        string          `json:"id"`
	Name      string          `json:"name"`
	Site      string          `json:"site"`
	Nominal   time.Time       `json:"nominal_utc,omitzero"`
	Release   time.Time       `json:"release_utc,omitzero"`
	Top       sounding.Number `json:"top_m_msl"`
	TopHPa    sounding.Number `json:"top_hpa"`
	Verdict   string          `json:"verdict"`
	Line      string          `json:"line"`
	Reasons   []string        `json:"reasons"`
	Findings  map[string]int  `json:"findings"` // open findings above a note, by variable
	Open      int             `json:"open"`
	State     string          `json:"state"` // new, in review, signed off, or: signed off, differs now
	Reviewer  string          `json:"reviewer"`
	Signer    string          `json:"signer,omitempty"`
	Signed    time.Time       `json:"signed_utc,omitzero"`
	SignedBy  string          `json:"signed_method_set,omitempty"` // method set that was signed
	Decisions int             `json:"decisions"`
	Revision  int             `json:"revision"`
	Stale     bool            `json:"stale,omitempty"` // set by the store: the flight has moved on since the row was made
	MethodSet string          `json:"method_set"`
	Serial    string          `json:"serial"`
	Sheet     string          `json:"sheet"` // in force; where none is known, the one the launch record names
	// ChosenSheet is the SHA-256 of the text of the sheet that a person chose; "" where none did.
	ChosenSheet    string            `json:"chosen_sheet_sha256,omitempty"`
	ChosenSettings string            `json:"chosen_settings_sha256,omitempty"` // the same of the settings file
	MethodSetNow   string            `json:"method_set_now,omitempty"`         // where the row was made by another method set: the one that holds today
	Sources        []string          `json:"sources"`
	SketchT        []sounding.Number `json:"sketch_temperature_k"` // on SketchLevels rising evenly in height
	SketchRH       []sounding.Number `json:"sketch_humidity_pct"`
	Summary        []string          `json:"summary"`
	Error          string            `json:"error,omitempty"` // why the flight could not be processed

	Methods string `json:"-"` // set by the store: same for flights with the same settings and sheet
}

// Store keeps the logbook. Everything it acknowledges is on disk; bytes and decisions
// are only ever added.
type Store interface {
	// AddFlight stores a flight with all its bytes and its row in one transaction and
	// returns its ID. The same bytes stored before are kept once. *AlreadyError where the
	// logbook holds the flight: the same parts of the same sources, or the same fingerprint.
	AddFlight(ctx context.Context, f StoredFlight, row Row) (id string, err error)
	// Flight returns a flight with its decisions; ErrNoFlight where there is none.
	Flight(ctx context.Context, id string) (StoredFlight, error)
	// Rows returns the logbook's rows in the order of their IDs.
	Rows(ctx context.Context) ([]Row, error)
	// Find returns the IDs of flights that hold a source with this SHA-256 or have this
	// fingerprint; either may be empty.
	Find(ctx context.Context, sha256, fingerprint string) ([]string, error)
	// The next six add one step to a flight's history if the flight still stands at revision
	// expected, and return its new revision. *StaleError where it does not; *SignedError
	// where a signature locks it; *RefusedError where there is nothing to take back, put
	// back or reopen.

	// Decide appends a decision and returns it with its ID.
	Decide(ctx context.Context, id string, d sounding.Decision, expected int) (sounding.Decision, int, error)
	// Revoke takes the decision named back.
	Revoke(ctx context.Context, id, decision string, r sounding.Revoked, expected int) (int, error)
	// Undo takes the last decision in force back and returns its ID.
	Undo(ctx context.Context, id string, r sounding.Revoked, expected int) (decision string, revision int, err error)
	// Redo puts the decision taken back last in force again and returns its ID.
	Redo(ctx context.Context, id string, r sounding.Revoked, expected int) (decision string, revision int, err error)
	// Sign locks the flight as it stands at revision expected.
	Sign(ctx context.Context, id string, s sounding.Signature, expected int) (int, error)
	// Reopen lifts the signature in force.
	Reopen(ctx context.Context, id string, r sounding.Reopening, expected int) (int, error)

	// DecideGroup appends a decision to many flights and keeps them together under a new
	// number, which it returns, with the texts they refer to and the flights' rows: all in
	// one transaction. *GroupError names every flight that moved on or is signed; then
	// nothing is stored.
	DecideGroup(ctx context.Context, g Group, texts []Blob, flights []GroupAddition) (Group, error)
	// RevokeGroup takes the decisions of a group back on the flights given, under the same rule.
	RevokeGroup(ctx context.Context, id string, r sounding.Revoked, flights []GroupAddition) error
	// Groups returns every group, the newest first.
	Groups(ctx context.Context) ([]Group, error)

	// PutRow replaces a flight's row; rows are derived and may be lost without harm.
	PutRow(ctx context.Context, row Row) error
	Close() error
}

// Why a flight is recognised as one that the logbook holds.
const (
	SameBytes  = "same bytes"
	SameFlight = "same flight"
)

// AlreadyError says that the logbook holds a flight that was to be added.
type AlreadyError struct {
	ID  string
	Why string // SameBytes or SameFlight
}

func (e *AlreadyError) Error() string {
	return fmt.Sprintf("it is in the logbook already as flight %s (%s)", e.ID, e.Why)
}

// ErrNoFlight is wrapped by errors about an ID the logbook does not hold.
var ErrNoFlight = errors.New("no such flight in the logbook")

// StaleError says that a flight has changed since the caller looked at it.
type StaleError struct {
	Flight            string
	Expected, Current int
	Since             []Ruling // steps taken since
}

func (e *StaleError) Error() string {
	s := fmt.Sprintf("flight %s has changed since you looked at it (revision %d, now %d): look again and decide anew", e.Flight, e.Expected, e.Current)
	for i := range e.Since {
		s += "; " + e.Since[i].words()
	}
	return s
}
