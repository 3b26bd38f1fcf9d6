package follow

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strconv"
	"sync"
	"time"
)

// Bounds of a journal.
const (
	maxJournal = 256 << 20 // bytes received for one flight: two million rows of text
	maxParts   = 999
	maxNotes   = 8 << 20 // bytes of notes that are read
	maxNote    = 16 << 10
	residue    = 8 // NUL bytes at the end of a part, from which they are a power cut's and no text
)

// Part is one unbroken run of bytes as received: from one opening of a file, one
// connection, or one start of the program.
type Part struct {
	Number int
	From   string // what it came from; "" where the notes are lost
	Offset int64  // where in From it begins; -1 not known
	Bytes  []byte
}

// Journal keeps everything received in a folder of its own:
//
//	part-001.received …  the bytes, exactly as they came
//	notes.jsonl          when and from where they came, alarms, what became of them
//	lock                 held while a program writes
//
// Bytes are written when they come and brought to the disk at most once a second, and when
// the journal is closed. Where the disk refuses them they stay in memory and are tried
// again. A journal is read back after any kind of end; notes that are torn or damaged are
// left out and counted, received bytes never.
type Journal struct {
	dir  string
	now  func() time.Time
	lock *os.File

	mu     sync.Mutex
	parts  []Part
	notes  []Note
	unread int // damaged notes
	total  int64
	out    *os.File // the last part
	saved  int      // bytes of the last part the system has taken
	log    *os.File
	dirty  bool
	marked time.Time // of the last "received" note
	failed error     // why the last write did not succeed
	begun  time.Time // when the first part began
}

// ErrInUse says that another program writes to the journal.
var ErrInUse = errors.New("another leadline follows into this journal")

var partName = regexp.MustCompile(`^part-(\d{3})\.received$`)

// OpenJournal opens the journal in a folder and makes the folder where there is none. now
// is the clock of the notes.
func OpenJournal(dir string, now func() time.Time) (*Journal, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	lock, err := os.OpenFile(filepath.Join(dir, "lock"), os.O_CREATE|os.O_RDWR, 0o666)
	if err != nil {
		return nil, err
	}
	if err := lockFile(lock); err != nil {
		lock.Close()
		return nil, fmt.Errorf("%s: %w", dir, ErrInUse)
	}
	j := &Journal{dir: dir, now: now, lock: lock}
	if err := j.open(); err != nil {
		lock.Close()
		return nil, err
	}
	return j, nil
}

func (j *Journal) open() error {
	var err error
	if j.parts, j.notes, j.unread, err = ReadJournal(j.dir); err != nil {
		return err
	}
	for _, p := range j.parts {
		j.total += int64(len(p.Bytes))
	}
	for _, n := range j.notes {
		if n.Event == noteOpened {
			j.begun = n.UTC
			break
		}
	}
	path := filepath.Join(j.dir, "notes.jsonl")
	if j.log, err = os.OpenFile(path, os.O_CREATE|os.O_RDWR|os.O_APPEND, 0o666); err != nil {
		return err
	}
	if info, err := j.log.Stat(); err == nil && info.Size() > 0 {
		last := make([]byte, 1)
		if _, err := j.log.ReadAt(last, info.Size()-1); err == nil && last[0] != '\n' {
			_, _ = j.log.WriteString("\n") // behind a torn note
		}
	}
	if n := len(j.parts); n > 0 {
		p := &j.parts[n-1]
		if j.out, err = os.OpenFile(j.path(p.Number), os.O_RDWR, 0o666); err != nil {
			return err
		}
		// Whatever stands behind the bytes is what a power cut left.
		if err := j.out.Truncate(int64(len(p.Bytes))); err != nil {
			return err
		}
		j.saved = len(p.Bytes)
	}
	return nil
}

func (j *Journal) path(part int) string {
	return filepath.Join(j.dir, fmt.Sprintf("part-%03d.received", part))
}

// ReadJournal reads what a folder holds without changing it; unread is the number of notes
// that could not be read. A folder that is not there holds nothing.
func ReadJournal(dir string) (parts []Part, notes []Note, unread int, err error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil, 0, nil
	}
	if err != nil {
		return nil, nil, 0, err
	}
	left := int64(maxJournal)
	for _, e := range entries {
		m := partName.FindStringSubmatch(e.Name())
		if m == nil || e.IsDir() {
			continue
		}
		number, _ := strconv.Atoi(m[1])
		if number == 0 {
			continue
		}
		b, err := readBounded(filepath.Join(dir, e.Name()), left)
		if err != nil {
			return nil, nil, 0, err
		}
		left -= int64(len(b))
		parts = append(parts, Part{Number: number, Offset: -1, Bytes: withoutResidue(b)})
	}
	sort.Slice(parts, func(i, k int) bool { return parts[i].Number < parts[k].Number })
	f, err := os.Open(filepath.Join(dir, "notes.jsonl"))
	switch {
	case errors.Is(err, os.ErrNotExist):
	case err != nil:
		return nil, nil, 0, err
	default:
		notes, unread = readNotes(f)
		f.Close()
	}
	for _, n := range notes {
		if n.Event != noteOpened {
			continue
		}
		for i := range parts {
			if parts[i].Number == n.Part {
				parts[i].From, parts[i].Offset = n.From, n.Offset
			}
		}
	}
	return parts, notes, unread, nil
}

func readBounded(path string, left int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, left+1))
	if err != nil {
		return nil, err
	}
	if int64(len(b)) > left {
		return nil, fmt.Errorf("%s: the journal holds more than %d MiB: no flight has that much; move the folder away to begin a new one", path, maxJournal>>20)
	}
	return b, nil
}

// withoutResidue takes off the NUL bytes that a file system may leave behind the last
// bytes written before a power cut.
func withoutResidue(b []byte) []byte {
	if t := bytes.TrimRight(b, "\x00"); len(b)-len(t) >= residue {
		return t
	}
	return b
}

// Parts returns the parts received so far. The bytes are not to be changed.
func (j *Journal) Parts() []Part {
	j.mu.Lock()
	defer j.mu.Unlock()
	out := make([]Part, len(j.parts))
	for i, p := range j.parts {
		p.Bytes = p.Bytes[:len(p.Bytes):len(p.Bytes)]
		out[i] = p
	}
	return out
}

// Notes returns the notes there were when the journal was opened.
func (j *Journal) Notes() []Note { return j.notes }

// Begun returns when the first part began, zero where none has.
func (j *Journal) Begun() time.Time {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.begun
}

// Total returns how many bytes were received, and how many of them the disk has not taken.
func (j *Journal) Total() (received, unsaved int64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if n := len(j.parts); n > 0 {
		unsaved = int64(len(j.parts[n-1].Bytes) - j.saved)
	}
	return j.total, unsaved
}

// Failed returns why the disk does not take bytes at the moment; nil where it does.
func (j *Journal) Failed() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.failed
}

// Begin starts a new part that begins at offset of what from names. The part before it
// must have been saved: a disk that refuses bytes is an error here.
func (j *Journal) Begin(from string, offset int64) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	number := 1
	if n := len(j.parts); n > 0 {
		number = j.parts[n-1].Number + 1
		if j.save(); j.failed != nil {
			return j.failed
		}
	}
	if number > maxParts {
		return fmt.Errorf("the source was opened anew %d times: no flight has that many; begin another journal", maxParts)
	}
	now := j.now().UTC()
	if err := j.note(Note{UTC: now, Part: number, Event: noteOpened, From: from, Offset: offset}); err != nil {
		return err
	}
	if j.begun.IsZero() {
		j.begun = now
	}
	out, err := os.OpenFile(j.path(number), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o666)
	if err != nil {
		return err
	}
	if j.out != nil {
		if err := errors.Join(j.out.Sync(), j.out.Close()); err != nil {
			out.Close()
			return err
		}
	}
	syncFolder(j.dir)
	j.out, j.saved = out, 0
	j.parts = append(j.parts, Part{Number: number, From: from, Offset: offset})
	return nil
}

// Append takes received bytes. It returns an error only where they could not be taken at
// all; bytes the disk refuses are kept in memory and tried again (see Failed).
func (j *Journal) Append(p []byte) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if len(j.parts) == 0 {
		return errors.New("no part of the journal was begun")
	}
	if j.total+int64(len(p)) > maxJournal {
		return fmt.Errorf("more than %d MiB were received: no flight has that much; look at what the source sends", maxJournal>>20)
	}
	part := &j.parts[len(j.parts)-1]
	part.Bytes = append(part.Bytes, p...)
	j.total += int64(len(p))
	j.save()
	return nil
}

// save writes what the last part holds beyond what was written.
func (j *Journal) save() {
	part := &j.parts[len(j.parts)-1]
	if j.saved == len(part.Bytes) {
		return
	}
	n, err := j.out.WriteAt(part.Bytes[j.saved:], int64(j.saved))
	j.saved += n
	j.dirty = true
	j.failed = err
}

// Sync brings everything to the disk, with a note of when the last bytes came.
func (j *Journal) Sync() error {
	j.mu.Lock()
	if len(j.parts) > 0 {
		j.save()
	}
	out, log, dirty, failed := j.out, j.log, j.dirty, j.failed
	if dirty {
		p := j.parts[len(j.parts)-1]
		if now := j.now(); now.Sub(j.marked) >= 10*time.Second {
			j.marked = now
			_ = j.note(Note{Part: p.Number, At: int64(j.saved), Event: noteReceived})
		}
	}
	j.dirty = false
	j.mu.Unlock()
	if !dirty || out == nil {
		return failed
	}
	// Outside the lock: a slow disk must not hold up what comes in. A part that was
	// closed meanwhile was synced when it was.
	for _, f := range []*os.File{out, log} {
		if err := f.Sync(); err != nil && !errors.Is(err, os.ErrClosed) {
			failed = errors.Join(failed, err)
		}
	}
	return failed
}

// Note writes down what happened.
func (j *Journal) Note(n Note) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if k := len(j.parts); k > 0 && n.Part == 0 {
		n.Part, n.At = j.parts[k-1].Number, int64(len(j.parts[k-1].Bytes))
	}
	return j.note(n)
}

func (j *Journal) note(n Note) error {
	if n.UTC.IsZero() {
		n.UTC = j.now().UTC()
	}
	b, err := n.line()
	if err != nil {
		return err
	}
	_, err = j.log.Write(b)
	return err
}

// Close brings everything to the disk and lets the journal go.
func (j *Journal) Close() error {
	err := j.Sync()
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, f := range []*os.File{j.out, j.log} {
		if f == nil {
			continue
		}
		if e := f.Sync(); e != nil && !errors.Is(e, os.ErrClosed) {
			err = errors.Join(err, e)
		}
		f.Close()
	}
	j.lock.Close()
	return err
}

// syncFolder makes a new name in a folder last; where the system has no such thing it does
// nothing.
func syncFolder(dir string) {
	if d, err := os.Open(dir); err == nil {
		_ = d.Sync()
		d.Close()
	}
}
