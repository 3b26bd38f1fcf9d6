// Package store keeps the logbook in one SQLite file. It implements workbench.Store.
//
// What a call acknowledges is on disk (write-ahead log, full synchronisation); what it
// does not is absent whole: every change is one transaction. Bytes are kept once under
// their SHA-256. Several processes may use one logbook.
package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/klauspost/compress/zstd"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

//go:embed schema/*.sql
var schema embed.FS

// Store is an open logbook.
type Store struct {
	write *sql.DB // one connection: SQLite has one writer
	read  *sql.DB
	pack  *zstd.Encoder
	open  *zstd.Decoder
}

var _ workbench.Store = (*Store)(nil)

// maxBlob is the largest source a logbook takes, and the most a packed one may unfold to.
const maxBlob = 1 << 30

// Open opens the logbook at path, making it where there is none, and brings an older
// one up to date after copying it to path + ".before-N".
func Open(path string) (*Store, error) {
	if dir := filepath.Dir(path); dir != "." {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return nil, err
		}
	}
	const pragmas = "?_pragma=journal_mode(wal)&_pragma=synchronous(full)&_pragma=busy_timeout(10000)&_pragma=foreign_keys(1)"
	name := "file:" + escape(path) + pragmas
	write, err := sql.Open("sqlite", name+"&_txlock=immediate")
	if err != nil {
		return nil, err
	}
	write.SetMaxOpenConns(1)
	if err := connected(write); err != nil {
		write.Close()
		return nil, fmt.Errorf("it is not a logbook: %w", err)
	}
	if err := migrate(write, path); err != nil {
		write.Close()
		return nil, err
	}
	read, err := sql.Open("sqlite", name)
	if err != nil {
		write.Close()
		return nil, err
	}
	pack, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
	if err != nil {
		return nil, err
	}
	unpack, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(0), zstd.WithDecoderMaxMemory(maxBlob))
	if err != nil {
		return nil, err
	}
	return &Store{write: write, read: read, pack: pack, open: unpack}, nil
}

// connected waits until the database answers. Turning a file to a write-ahead log does not
// wait for other processes that do the same at this moment: it is asked again.
func connected(db *sql.DB) error {
	const wait, pause = 10 * time.Second, 20 * time.Millisecond
	for range int(wait / pause) {
		err := db.Ping()
		var busy *sqlite.Error
		if !errors.As(err, &busy) || busy.Code()&0xff != sqlite3.SQLITE_BUSY {
			return err
		}
		time.Sleep(pause)
	}
	return db.Ping()
}

// escape makes a path safe inside a file: name.
func escape(path string) string {
	return strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(filepath.ToSlash(path))
}

// Close closes the logbook.
func (s *Store) Close() error {
	s.open.Close()
	return errors.Join(s.read.Close(), s.write.Close())
}

// migrate applies the numbered schema files that the logbook lacks and refuses a logbook
// made by a newer program.
func migrate(db *sql.DB, path string) error {
	files, err := fs.Glob(schema, "schema/*.sql")
	if err != nil {
		return err
	}
	sort.Strings(files)
	var version int
	if err := db.QueryRow("pragma user_version").Scan(&version); err != nil {
		return fmt.Errorf("it is not a logbook: %w", err)
	}
	if version > len(files) {
		return fmt.Errorf("it was written by a newer leadline (schema %d, this one knows %d): use that version", version, len(files))
	}
	if version > 0 && version < len(files) {
		copyPath := fmt.Sprintf("%s.before-%d", path, len(files))
		if err := copyOf(db, copyPath, version); err != nil {
			return fmt.Errorf("it could not be copied to %s before the change of schema: %w", copyPath, err)
		}
	}
	if version == len(files) {
		return nil
	}
	return upgrade(db, files)
}

// copyOf writes a whole copy of the logbook under a name. Where another process has brought
// the logbook beyond version meanwhile, that process has made the copy, and it stays.
func copyOf(db *sql.DB, path string, version int) error {
	file, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".partial-*")
	if err != nil {
		return err
	}
	partial := file.Name()
	defer os.Remove(partial)
	if err := file.Close(); err != nil {
		return err
	}
	if _, err := db.Exec("vacuum into ?", partial); err != nil {
		return err
	}
	made, err := sql.Open("sqlite", "file:"+escape(partial)+"?mode=ro")
	if err != nil {
		return err
	}
	var copied int
	err = made.QueryRow("pragma user_version").Scan(&copied)
	if err := errors.Join(err, made.Close()); err != nil || copied != version {
		return err
	}
	return os.Rename(partial, path)
}

// upgrade applies the schema files that the logbook lacks, all in one transaction: another
// process finds it as it was or up to date. What another has applied meanwhile is left alone.
func upgrade(db *sql.DB, files []string) error {
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	var version, tables int
	if err := errors.Join(tx.QueryRow("pragma user_version").Scan(&version), tx.QueryRow("select count(*) from sqlite_master").Scan(&tables)); err != nil {
		return err
	}
	if version == 0 && tables > 0 {
		return errors.New("the file is a database of another program")
	}
	for i := version; i < len(files); i++ {
		text, err := schema.ReadFile(files[i])
		if err != nil {
			return err
		}
		if _, err := tx.Exec(string(text)); err != nil {
			return fmt.Errorf("schema %s: %w", filepath.Base(files[i]), err)
		}
		if _, err := tx.Exec(fmt.Sprintf("pragma user_version = %d", i+1)); err != nil {
			return err
		}
	}
	return tx.Commit()
}

// packedBlob is a blob as it is stored.
type packedBlob struct {
	id     string
	bytes  []byte
	packed int
}

// prepare packs bytes where that pays, before a transaction holds the writer.
func (s *Store) prepare(b workbench.Blob) (packedBlob, error) {
	if len(b.Bytes) > maxBlob {
		return packedBlob{}, fmt.Errorf("%s: %d bytes are more than the 1 GiB a logbook takes", b.Name, len(b.Bytes))
	}
	sum := sha256.Sum256(b.Bytes)
	out := packedBlob{id: hex.EncodeToString(sum[:]), bytes: b.Bytes}
	if p := s.pack.EncodeAll(b.Bytes, nil); len(p) < len(b.Bytes)*9/10 {
		out.bytes, out.packed = p, 1
	}
	if out.bytes == nil {
		out.bytes = []byte{}
	}
	return out, nil
}

func (b packedBlob) put(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, "insert into blob (sha256, bytes, packed) values (?, ?, ?) on conflict (sha256) do nothing", b.id, b.bytes, b.packed)
	return err
}

// blob returns stored bytes and makes sure that they still are what their name says.
func (s *Store) blob(ctx context.Context, q queryer, name, id string) (workbench.Blob, error) {
	var bytes []byte
	var packed int
	if err := q.QueryRowContext(ctx, "select bytes, packed from blob where sha256 = ?", id).Scan(&bytes, &packed); err != nil {
		return workbench.Blob{}, fmt.Errorf("%s (SHA-256 %s): %w", name, id, err)
	}
	if packed == 1 {
		var err error
		if bytes, err = s.open.DecodeAll(bytes, nil); err != nil {
			return workbench.Blob{}, fmt.Errorf("%s (SHA-256 %s) is damaged in the logbook: %w", name, id, err)
		}
	}
	if sum := sha256.Sum256(bytes); hex.EncodeToString(sum[:]) != id {
		return workbench.Blob{}, fmt.Errorf("%s is damaged in the logbook: its bytes do not have the SHA-256 %s: restore the logbook from a copy", name, id)
	}
	if len(bytes) == 0 {
		return workbench.Blob{}, nil
	}
	return workbench.Blob{Name: name, SHA256: id, Bytes: bytes}, nil
}

// options is what the user said about a source, as it is stored.
type options struct {
	Date time.Time `json:"date,omitzero"`
	Base time.Time `json:"base,omitzero"`
	Zone string    `json:"zone,omitempty"`
}

type queryer interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// AddFlight implements workbench.Store.
func (s *Store) AddFlight(ctx context.Context, f workbench.StoredFlight, row workbench.Row) (string, error) {
	blobs := []workbench.Blob{f.Record, f.Sheet, f.Settings}
	for _, src := range f.Sources {
		blobs = append(blobs, src.Source, src.Recipe)
	}
	packed := make([]packedBlob, len(blobs))
	for i, b := range blobs {
		var err error
		if packed[i], err = s.prepare(b); err != nil {
			return "", err
		}
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return "", err
	}
	defer tx.Rollback()
	// The transaction holds the writer from its start, so that two processes that add one
	// flight at the same moment store it once.
	if err := already(ctx, tx, f, packed); err != nil {
		return "", err
	}
	for _, b := range packed {
		if err := b.put(ctx, tx); err != nil {
			return "", err
		}
	}
	result, err := tx.ExecContext(ctx, `insert into flight (name, fingerprint, record_name, record_sha256, sheet_name, sheet_sha256, settings_name, settings_sha256, added_utc)
		values (?, ?, ?, ?, ?, ?, ?, ?, ?)`, f.Name, f.Fingerprint, f.Record.Name, packed[0].id, f.Sheet.Name, packed[1].id, f.Settings.Name, packed[2].id, f.Added.UTC().Format(time.RFC3339Nano))
	if err != nil {
		return "", err
	}
	n, err := result.LastInsertId()
	if err != nil {
		return "", err
	}
	for i, src := range f.Sources {
		said, err := json.Marshal(options{src.Date, src.Base, src.Zone})
		if err != nil {
			return "", err
		}
		if _, err := tx.ExecContext(ctx, "insert into source (flight, position, name, sha256, recipe_name, recipe_sha256, part, options) values (?, ?, ?, ?, ?, ?, ?, ?)",
			n, i, src.Source.Name, packed[3+2*i].id, src.Recipe.Name, packed[4+2*i].id, src.Part, string(said)); err != nil {
			return "", err
		}
	}
	row.ID = strconv.FormatInt(n, 10)
	if err := putRow(ctx, tx, n, row); err != nil {
		return "", err
	}
	return row.ID, tx.Commit()
}

// already returns *workbench.AlreadyError where the logbook holds the flight.
func already(ctx context.Context, tx *sql.Tx, f workbench.StoredFlight, packed []packedBlob) error {
	if len(f.Sources) > 0 {
		ids, err := integers(ctx, tx, "select distinct flight from source where sha256 = ? order by flight", packed[3].id)
		if err != nil {
			return err
		}
		for _, id := range ids {
			same := 0
			for i, src := range f.Sources {
				n, err := integers(ctx, tx, "select 1 from source where flight = ? and position = ? and sha256 = ? and part = ?", id, i, packed[3+2*i].id, src.Part)
				if err != nil {
					return err
				}
				same += len(n)
			}
			all, err := integers(ctx, tx, "select count(*) from source where flight = ?", id)
			if err != nil {
				return err
			}
			if same == len(f.Sources) && all[0] == int64(same) {
				return &workbench.AlreadyError{ID: strconv.FormatInt(id, 10), Why: workbench.SameBytes}
			}
		}
	}
	if f.Fingerprint == "" {
		return nil
	}
	ids, err := integers(ctx, tx, "select id from flight where fingerprint = ? order by id limit 1", f.Fingerprint)
	if err == nil && len(ids) > 0 {
		return &workbench.AlreadyError{ID: strconv.FormatInt(ids[0], 10), Why: workbench.SameFlight}
	}
	return err
}

// integers returns the one column of a query.
func integers(ctx context.Context, q queryer, query string, args ...any) ([]int64, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []int64
	for rows.Next() {
		var n int64
		if err := rows.Scan(&n); err != nil {
			return nil, err
		}
		out = append(out, n)
	}
	return out, rows.Err()
}

func putRow(ctx context.Context, tx interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, flight int64, row workbench.Row) error {
	text, err := json.Marshal(row)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "insert into row (flight, json) values (?, ?) on conflict (flight) do update set json = excluded.json", flight, string(text))
	return err
}

// number reads an ID; one that is no number is a flight that does not exist.
func number(id string) (int64, error) {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil || n < 1 {
		return 0, fmt.Errorf("%q: %w", id, workbench.ErrNoFlight)
	}
	return n, nil
}

// Flight implements workbench.Store.
func (s *Store) Flight(ctx context.Context, id string) (workbench.StoredFlight, error) {
	n, err := number(id)
	if err != nil {
		return workbench.StoredFlight{}, err
	}
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return workbench.StoredFlight{}, err
	}
	defer tx.Rollback()
	f := workbench.StoredFlight{ID: id}
	var names, shas [3]string
	var added string
	err = tx.QueryRowContext(ctx, "select name, fingerprint, record_name, record_sha256, sheet_name, sheet_sha256, settings_name, settings_sha256, added_utc, revision from flight where id = ?", n).
		Scan(&f.Name, &f.Fingerprint, &names[0], &shas[0], &names[1], &shas[1], &names[2], &shas[2], &added, &f.Revision)
	if errors.Is(err, sql.ErrNoRows) {
		return workbench.StoredFlight{}, fmt.Errorf("flight %s: %w", id, workbench.ErrNoFlight)
	}
	if err != nil {
		return workbench.StoredFlight{}, err
	}
	if f.Added, err = time.Parse(time.RFC3339Nano, added); err != nil {
		return workbench.StoredFlight{}, fmt.Errorf("flight %s: %w", id, err)
	}
	for i, into := range []*workbench.Blob{&f.Record, &f.Sheet, &f.Settings} {
		if *into, err = s.blob(ctx, tx, names[i], shas[i]); err != nil {
			return workbench.StoredFlight{}, err
		}
	}
	type reference struct {
		name, sha, recipe, recipeSHA, said string
		part                               int
	}
	var references []reference
	rows, err := tx.QueryContext(ctx, "select name, sha256, recipe_name, recipe_sha256, part, options from source where flight = ? order by position", n)
	if err != nil {
		return workbench.StoredFlight{}, err
	}
	for rows.Next() {
		var r reference
		if err := rows.Scan(&r.name, &r.sha, &r.recipe, &r.recipeSHA, &r.part, &r.said); err != nil {
			rows.Close()
			return workbench.StoredFlight{}, err
		}
		references = append(references, r)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return workbench.StoredFlight{}, err
	}
	for _, r := range references {
		var said options
		if err := json.Unmarshal([]byte(r.said), &said); err != nil {
			return workbench.StoredFlight{}, fmt.Errorf("flight %s, source %s: %w", id, r.name, err)
		}
		src := workbench.StoredSource{Part: r.part, Date: said.Date, Base: said.Base, Zone: said.Zone}
		if src.Source, err = s.blob(ctx, tx, r.name, r.sha); err != nil {
			return workbench.StoredFlight{}, err
		}
		if src.Recipe, err = s.blob(ctx, tx, r.recipe, r.recipeSHA); err != nil {
			return workbench.StoredFlight{}, err
		}
		f.Sources = append(f.Sources, src)
	}
	if f.History, err = history(ctx, tx, n); err != nil {
		return workbench.StoredFlight{}, fmt.Errorf("flight %s: %w", id, err)
	}
	f.Decisions = workbench.Replay(f.History).Decisions
	if f.Sheets, err = s.chosen(ctx, tx, sounding.ActChooseSheet, f.Decisions); err != nil {
		return workbench.StoredFlight{}, err
	}
	f.SettingsFiles, err = s.chosen(ctx, tx, sounding.ActChooseSettings, f.Decisions)
	return f, err
}

// Rows implements workbench.Store.
func (s *Store) Rows(ctx context.Context) ([]workbench.Row, error) {
	rows, err := s.read.QueryContext(ctx, "select f.id, f.name, f.revision, f.settings_sha256 || f.sheet_sha256, r.json from flight f left join row r on r.flight = f.id order by f.id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := []workbench.Row{}
	for rows.Next() {
		var id int64
		var name, methods string
		var revision int
		var text sql.NullString
		if err := rows.Scan(&id, &name, &revision, &methods, &text); err != nil {
			return nil, err
		}
		var row workbench.Row
		if text.Valid {
			if err := json.Unmarshal([]byte(text.String), &row); err != nil {
				return nil, fmt.Errorf("row of flight %d: %w", id, err)
			}
		}
		row.Stale = !text.Valid || row.Revision != revision
		row.ID, row.Name, row.Revision, row.Methods = strconv.FormatInt(id, 10), name, revision, methods
		out = append(out, row)
	}
	return out, rows.Err()
}

// Find implements workbench.Store.
func (s *Store) Find(ctx context.Context, sha256, fingerprint string) ([]string, error) {
	rows, err := s.read.QueryContext(ctx, `select flight from source where ?1 <> '' and sha256 = ?1
		union select id from flight where ?2 <> '' and fingerprint = ?2 order by 1`, sha256, fingerprint)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		out = append(out, strconv.FormatInt(id, 10))
	}
	return out, rows.Err()
}

// PutRow implements workbench.Store.
func (s *Store) PutRow(ctx context.Context, row workbench.Row) error {
	n, err := number(row.ID)
	if err != nil {
		return err
	}
	return putRow(ctx, s.write, n, row)
}
