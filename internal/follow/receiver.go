package follow

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// Receiving is how things stand with a further receiver of the flight.
type Receiving struct {
	Name     string          `json:"name"`
	Link     Link            `json:"link"`
	Sentence string          `json:"link_sentence"`
	Received int64           `json:"received_bytes"`
	Age      sounding.Number `json:"age_s"` // since it brought anything
	Apart    string          `json:"apart"` // why its rows are not in the flight; "" where they are
}

// receiver is a further receiver of the flight with a journal of its own, in a folder of
// the session's journal. Its rows are joined with those of the first by time.
type receiver struct {
	s       *Session
	source  Source // nil: of an earlier run, not received any more
	journal *Journal
	old     []Part // where there is no journal
	name    string

	mu    sync.Mutex
	state Receiving
	came  time.Time
}

const receiverFolder = "receiver-"

func folderOf(journal string, s Source) string {
	sum := sha256.Sum256([]byte(s.Identity()))
	return filepath.Join(journal, receiverFolder+hex.EncodeToString(sum[:4]))
}

// openReceivers opens the journals of the further receivers, and reads those of earlier
// runs that are not named any more: what they brought belongs to the flight.
func (s *Session) openReceivers() error {
	taken := map[string]bool{}
	first := s.o.Source.Identity()
	for _, source := range s.o.Also {
		folder := folderOf(s.o.Journal, source)
		if taken[folder] || source.Identity() == first {
			return fmt.Errorf("%s is named twice", source.Name())
		}
		taken[folder] = true
		j, err := OpenJournal(folder, s.now)
		if err != nil {
			return err
		}
		s.others = append(s.others, &receiver{s: s, source: source, journal: j, name: source.Name()})
	}
	found, err := filepath.Glob(filepath.Join(globQuoted(s.o.Journal), receiverFolder+"*"))
	if err != nil {
		return err
	}
	for _, folder := range found {
		if taken[folder] {
			continue
		}
		parts, _, _, err := ReadJournal(folder)
		if err != nil {
			return err
		}
		if len(parts) > 0 {
			s.others = append(s.others, &receiver{s: s, old: parts, name: nameOfPart(parts[0], len(s.others)+2)})
		}
	}
	for _, r := range s.others {
		r.state = Receiving{Name: r.name, Link: LinkWaiting, Sentence: "nothing has been received yet"}
		if r.source == nil {
			r.state.Link, r.state.Sentence = LinkEnded, "received by an earlier run and not followed any more"
		}
	}
	return nil
}

func globQuoted(path string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(path)
}

func nameOfPart(p Part, n int) string {
	if p.From == "" || isAddress(p.From) {
		return fmt.Sprintf("receiver-%d.txt", n)
	}
	return filepath.Base(p.From)
}

// Last returns the last part of the receiver's journal.
func (r *receiver) Last() (Part, bool) {
	parts := r.journal.Parts()
	if len(parts) == 0 {
		return Part{}, false
	}
	return parts[len(parts)-1], true
}

// Begin starts a part of the receiver's journal.
func (r *receiver) Begin(from string, offset int64) error { return r.journal.Begin(from, offset) }

// Receive keeps bytes.
func (r *receiver) Receive(p []byte, at time.Time) error {
	if err := r.journal.Append(p); err != nil {
		return err
	}
	now := r.s.now()
	if at.IsZero() || at.After(now) {
		at = now
	}
	r.mu.Lock()
	r.came = at
	r.mu.Unlock()
	r.s.arrived(at)
	return nil
}

// Link notes how things stand with the receiver.
func (r *receiver) Link(state Link, sentence string) {
	r.mu.Lock()
	same := r.state.Link == state && r.state.Sentence == sentence
	r.state.Link, r.state.Sentence = state, sentence
	r.mu.Unlock()
	if same {
		return
	}
	_ = r.journal.Note(Note{Event: noteLink, Kind: string(state), Text: sentence})
	select {
	case r.s.events <- Event{Event: EventLink, UTC: r.s.now().UTC(), Sentence: sentence, Kind: string(state)}:
	default:
	}
}

func (r *receiver) parts() []Part {
	if r.journal == nil {
		return r.old
	}
	return r.journal.Parts()
}

// now returns how things stand with the receiver at an instant.
func (r *receiver) now(at time.Time) Receiving {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := r.state
	out.Age = sounding.NotSet
	if !r.came.IsZero() {
		out.Age = sounding.Number(max(0, at.Sub(r.came).Seconds()))
	}
	for _, p := range r.parts() {
		out.Received += int64(len(p.Bytes))
	}
	return out
}

func (r *receiver) apart(why string) {
	r.mu.Lock()
	r.state.Apart = why
	r.mu.Unlock()
}

// sourceName is what the receiver's source is called in the logbook.
func (r *receiver) sourceName() string {
	if r.source == nil {
		return r.name
	}
	return sourceNameOf(r.source, r.journal)
}

// runSources receives from all sources until each has ended; where one fails the others go
// on. It returns an error where none has ended by itself.
func (s *Session) runSources(ctx context.Context) error {
	running := 0
	for _, r := range s.others {
		if r.source != nil {
			running++
		}
	}
	if running == 0 {
		return s.o.Source.Run(ctx, s)
	}
	results := make(chan error, running+1)
	one := func(source Source, to Receiver) {
		err := source.Run(ctx, to)
		if err != nil && ctx.Err() == nil {
			to.Link(LinkLost, fmt.Sprintf("%s is not received any more: %v", source.Name(), err))
		}
		results <- err
	}
	go one(s.o.Source, s)
	for _, r := range s.others {
		if r.source != nil {
			go one(r.source, r)
		}
	}
	var errs []error
	for range running + 1 {
		if err := <-results; err != nil {
			errs = append(errs, err)
		}
	}
	if len(errs) == running+1 {
		return errors.Join(errs...)
	}
	return nil
}

// journals returns the journals that are written.
func (s *Session) journals() []*Journal {
	out := []*Journal{s.journal}
	for _, r := range s.others {
		if r.journal != nil {
			out = append(out, r.journal)
		}
	}
	return out
}

// total returns the bytes received by all, and how many of them are in memory only.
func (s *Session) total() (received, unsaved int64) {
	for _, j := range s.journals() {
		n, u := j.Total()
		received, unsaved = received+n, unsaved+u
	}
	return received, unsaved
}

// syncAll brings all journals to the disk.
func (s *Session) syncAll() error {
	var err error
	for _, j := range s.journals() {
		err = errors.Join(err, j.Sync())
	}
	return err
}

// failed returns why bytes could not be written.
func (s *Session) failed() error {
	for _, j := range s.journals() {
		if err := j.Failed(); err != nil {
			return err
		}
	}
	return nil
}

// joined puts the sources of further receivers behind those of the first where they can be
// read together. Where they cannot, the first is taken alone and the receivers say why.
func (s *Session) joined(first []workbench.File, whole bool) []workbench.File {
	if len(s.others) == 0 {
		return first
	}
	out := append([]workbench.File(nil), first...)
	for _, r := range s.others {
		more := sourcesOf(r.sourceName(), r.parts(), s.preamble, whole)
		if len(more) == 0 {
			r.apart("")
			continue
		}
		for i := range more {
			for k := 2; named(out, more[i].Name); k++ {
				more[i].Name = numbered(path.Base(r.sourceName()), k)
			}
		}
		try := append(append([]workbench.File(nil), out...), more...)
		q := s.o.Request
		q.Join = len(try) > 1
		loaded, err := workbench.Load(try, q)
		switch {
		case err != nil:
			r.apart(err.Error())
		case len(loaded) > 1 && len(out) > 0:
			r.apart("its rows are of another flight")
		default:
			r.apart("")
			out = try
		}
	}
	return out
}

func named(list []workbench.File, name string) bool {
	for _, f := range list {
		if f.Name == name {
			return true
		}
	}
	return false
}
