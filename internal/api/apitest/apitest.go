// Package apitest fills logbooks with simulated flights for tests of the server and the
// screens: a few with the usual troubles, and the hard states (no humidity, bad all
// over, 40,000 samples, markup in a name, thousands of rows).
package apitest

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/store"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// Flight says what to simulate.
type Flight struct {
	Name     string // of the file; "" leaves the simulator's
	Site     string // of the launch record
	Climate  truth.Climate
	Day      bool
	Sheet    string
	Interval float64 // s between frames; 0: 1 s
	Lift     float64 // kg at the nozzle; 0: an ordinary one
	Before   float64 // s received before release; 0: ten minutes
	Rest     float64 // s received after landing
	Until    string  // as truth.Scenario; "": burst and some of the fall
	Notes    string
	Faults   []truth.Fault
}

// Campaign is the set of flights most tests use, in the order they are added.
var Campaign = []Flight{
	{Site: "north pier", Climate: truth.MidLatitudeSummer, Day: true, Sheet: "twin-humidity"},
	{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Faults: []truth.Fault{{Name: "humidity-icing"}, {Name: "gps-loss"}}},
	{Site: "reed bay", Climate: truth.Marine, Day: true, Sheet: "single-humidity", Faults: []truth.Fault{{Name: "declared-release-late"}, {Name: "temperature-spikes"}}},
	{Site: "reed bay", Climate: truth.MidLatitudeWinter, Sheet: "no-barometer", Faults: []truth.Fault{{Name: "telemetry-gap"}}},
	{Site: "north pier", Climate: truth.Tropical, Day: true, Sheet: "twin-humidity", Faults: []truth.Fault{{Name: "surface-pressure-typo"}, {Name: "pressure-offset", Size: 3}}},
	{Site: "reed bay", Climate: truth.HighPlateau, Sheet: "single-humidity", Faults: []truth.Fault{{Name: "early-burst"}}},
	{Name: `<img src=x onerror="document.title='run'">.txt`, Site: `<b>reed</b> & "bay"`, Climate: truth.Desert, Day: true, Sheet: "single-humidity",
		Notes: `<script>document.title='run'</script>`},
}

// Open returns a bench on a new logbook in dir. now is the clock that stamps decisions.
func Open(dir string, now func() time.Time) (*workbench.Bench, *store.Store, error) {
	s, err := store.Open(filepath.Join(dir, "logbook.db"))
	if err != nil {
		return nil, nil, err
	}
	return workbench.New(s, now), s, nil
}

// Files returns the source and the launch record of a simulated flight.
func Files(f Flight, seed uint64) (source workbench.File, q workbench.Request, err error) {
	s, err := truth.Preset(f.Climate, f.Day)
	if err != nil {
		return source, q, err
	}
	if f.Sheet != "" {
		if s.Sheet, _, err = sounding.ShippedSheet(f.Sheet); err != nil {
			return source, q, err
		}
	}
	s.Site.Name = f.Site
	if f.Interval > 0 {
		s.Interval = f.Interval
	}
	s.Until, s.Rest = f.Until, f.Rest
	if f.Lift > 0 {
		s.Balloon.NozzleLift = f.Lift
	}
	if f.Before > 0 {
		s.Before = f.Before
	}
	s.Faults = f.Faults
	s.Release = s.Release.Add(time.Duration(seed) * 24 * time.Hour)
	flown, err := truth.Simulate(s, seed)
	if err != nil {
		return source, q, err
	}
	if f.Notes != "" {
		flown.Record.Notes = f.Notes
	}
	source = workbench.File{Name: flown.Receptions[0].Name, Bytes: flown.Text(0)}
	if f.Name != "" {
		source.Name = f.Name
	}
	return source, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: flown.RecordText()}}, nil
}

// Add simulates flights and puts them into a logbook; it returns their IDs.
func Add(ctx context.Context, b *workbench.Bench, flights []Flight) ([]string, error) {
	var ids []string
	for i, f := range flights {
		source, q, err := Files(f, uint64(i+1))
		if err != nil {
			return nil, err
		}
		added, err := b.Add(ctx, []workbench.File{source}, q)
		if err != nil {
			return nil, fmt.Errorf("flight %d at %s: %w", i+1, f.Site, err)
		}
		for _, a := range added {
			ids = append(ids, a.ID)
		}
	}
	return ids, nil
}

// Blind returns the same comma-separated file with every value of a column missing, for
// flights that have lost a sensor.
func Blind(text []byte, header string) ([]byte, error) {
	lines := bytes.Split(text, []byte("\n"))
	column := -1
	for i, l := range lines {
		fields := bytes.Split(l, []byte(","))
		if column < 0 {
			column = slices.IndexFunc(fields, func(f []byte) bool { return string(f) == header })
			continue
		}
		if column < len(fields) && fields[0][0] >= '0' && fields[0][0] <= '9' {
			fields[column] = []byte("-")
			lines[i] = bytes.Join(fields, []byte(","))
		}
	}
	if column < 0 {
		return nil, fmt.Errorf("no column is headed %s", header)
	}
	return bytes.Join(lines, []byte("\n")), nil
}

// Many is a store that shows n more rows than it holds, for lists of a whole network's
// years. The rows are copies of those it does hold; opening one opens the original.
type Many struct {
	workbench.Store
	N int
}

// Rows returns the rows of the store and N copies with other sites and instants.
func (m Many) Rows(ctx context.Context) ([]workbench.Row, error) {
	rows, err := m.Store.Rows(ctx)
	if err != nil || len(rows) == 0 {
		return rows, err
	}
	own := len(rows)
	for i := range m.N {
		r := rows[i%own]
		r.ID = fmt.Sprintf("%d", 1000+i)
		r.Release = r.Release.Add(time.Duration(i) * -6 * time.Hour)
		if !r.Nominal.IsZero() {
			r.Nominal = r.Nominal.Add(time.Duration(i) * -6 * time.Hour)
		}
		r.Name = fmt.Sprintf("%s-%04d", r.Name, i)
		rows = append(rows, r)
	}
	return rows, nil
}

// Years adds n flights to the logbook that Open made in dir, each with the bytes of one
// that it holds and releases six hours apart: the logbook of years, of which every flight
// can be opened and ruled on. A store recognises bytes that it holds and refuses them, so
// the copies are written to its file beside it, in one transaction.
func Years(ctx context.Context, s *store.Store, dir string, n int) error {
	rows, err := s.Rows(ctx)
	if err != nil {
		return err
	}
	if len(rows) == 0 {
		return errors.New("the logbook holds no flight to copy: add one first")
	}
	db, err := sql.Open("sqlite", "file:"+filepath.ToSlash(filepath.Join(dir, "logbook.db"))+"?_txlock=immediate&_pragma=foreign_keys(1)&_pragma=busy_timeout(10000)")
	if err != nil {
		return err
	}
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	for i := range n {
		r := rows[i%len(rows)]
		own := r.ID
		shift := time.Duration(i) * -6 * time.Hour
		r.Name = fmt.Sprintf("%s-%04d", r.Name, i)
		r.Release = r.Release.Add(shift)
		if !r.Nominal.IsZero() {
			r.Nominal = r.Nominal.Add(shift)
		}
		r.Revision = 0
		made, err := tx.ExecContext(ctx, `insert into flight (name, fingerprint, record_name, record_sha256, sheet_name, sheet_sha256, settings_name, settings_sha256, added_utc)
			select ?, fingerprint || ?, record_name, record_sha256, sheet_name, sheet_sha256, settings_name, settings_sha256, added_utc from flight where id = ?`,
			r.Name, fmt.Sprintf(" %d", i), own)
		if err != nil {
			return err
		}
		id, err := made.LastInsertId()
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `insert into source (flight, position, name, sha256, recipe_name, recipe_sha256, part, options)
			select ?, position, name, sha256, recipe_name, recipe_sha256, part, options from source where flight = ?`, id, own); err != nil {
			return err
		}
		r.ID = strconv.FormatInt(id, 10)
		text, err := json.Marshal(r)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "insert into row (flight, json) values (?, ?)", id, string(text)); err != nil {
			return err
		}
	}
	return tx.Commit()
}
