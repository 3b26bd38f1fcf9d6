package follow

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"sync"
	"time"

	"leadline/internal/workbench"
)

// Replay sends a finished file's lines at the pace at which they were received, or faster:
// for practice and for tests. Its clock runs with the rows, so that ages and alarms are
// those of the flight. A replay that is started again goes on where the journal ends.
type Replay struct {
	path  string
	speed float64
	text  []byte
	ends  []int       // bytes up to the end of each line
	at    []time.Time // instant of each line, never earlier than the one before

	mu    sync.Mutex
	base  time.Time // on the replay's clock
	began time.Time // when the replay's clock stood at base
	next  int       // first line that was not sent
}

// replayLag is how late, by the computer's clock, lines may be sent. A busy computer makes
// the replay's clock wait rather than the data old.
const replayLag = 100 * time.Millisecond

// NewReplay reads a file and what is needed to know the time of each of its lines.
func NewReplay(path string, text []byte, q workbench.Request, speed float64) (*Replay, error) {
	if !(speed > 0 && speed <= 1e6) {
		return nil, fmt.Errorf("a replay at %g times the pace: want a number above 0, such as 100", speed)
	}
	name := filepath.Base(path)
	q.Join = false
	loaded, err := workbench.Load([]workbench.File{{Name: name, Bytes: text}}, q)
	if err != nil {
		return nil, err
	}
	r := &Replay{path: path, speed: speed, text: text}
	for i := 0; i < len(text); {
		k := bytes.IndexByte(text[i:], '\n')
		if k < 0 {
			k = len(text) - i - 1
		}
		i += k + 1
		r.ends = append(r.ends, i)
	}
	r.at = make([]time.Time, len(r.ends))
	for _, l := range loaded {
		raw := l.Inputs.Raw
		times := raw.Time
		for row, line := range raw.Line {
			if line >= 1 && int(line) <= len(r.at) && !math.IsNaN(times[row]) {
				r.at[line-1] = raw.Epoch.Add(time.Duration(times[row] * float64(time.Second)))
			}
		}
	}
	var last time.Time
	timed := 0
	for i := range r.at {
		if !r.at[i].IsZero() {
			timed++
		}
		// Lines without a time come with the one before; time never runs back, and a
		// wrong clock in one row does not hold up the others for hours.
		if t := r.at[i]; !last.IsZero() && (t.Before(last) || t.Sub(last) > 15*time.Minute) {
			r.at[i] = last
		}
		last = r.at[i]
	}
	if timed*2 < len(r.ends) {
		return nil, fmt.Errorf("%s: only %d of %d lines have a time: a replay needs text with one row a line", name, timed, len(r.ends))
	}
	for i := len(r.at) - 1; i >= 0; i-- {
		if r.at[i].IsZero() && i+1 < len(r.at) {
			r.at[i] = r.at[i+1]
		}
	}
	r.base = r.at[0]
	return r, nil
}

// Name returns the file's name without its folder.
func (r *Replay) Name() string { return filepath.Base(r.path) }

// Identity returns the file's path, marked as a replay.
func (r *Replay) Identity() string { return "replay " + r.path }

// Now is the clock of the replay; it stands still before Run.
func (r *Replay) Now() time.Time {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.began.IsZero() {
		return r.base
	}
	now := r.base.Add(time.Duration(float64(time.Since(r.began)) * r.speed))
	if r.next < len(r.at) {
		if latest := r.at[r.next].Add(time.Duration(float64(replayLag) * r.speed)); now.After(latest) {
			r.base, r.began = latest, time.Now()
			return latest
		}
	}
	return now
}

// Speed returns how many times faster than the flight the replay's clock runs.
func (r *Replay) Speed() float64 { return r.speed }

// Run sends the lines and ends with the last.
func (r *Replay) Run(ctx context.Context, to Receiver) error {
	sent := 0
	part, any := to.Last()
	if any && part.From == r.Identity() && part.Offset >= 0 && sameBytes(bytes.NewReader(r.text), part) {
		sent = int(part.Offset) + len(part.Bytes)
		to.Link(LinkReceiving, fmt.Sprintf("the replay of %s goes on at byte %d, %g times as fast as the flight", r.Name(), sent, r.speed))
	} else {
		if err := begin(ctx, to, r.Identity(), 0); err != nil {
			return err
		}
		to.Link(LinkReceiving, fmt.Sprintf("replay of %s, %g times as fast as the flight", r.Name(), r.speed))
	}
	line := 0
	for line < len(r.ends) && r.ends[line] <= sent {
		line++
	}
	r.mu.Lock()
	if line < len(r.at) {
		r.base = r.at[line]
	} else {
		r.base = r.at[len(r.at)-1]
	}
	r.began, r.next = time.Now(), line
	r.mu.Unlock()
	reader := io.NewSectionReader(bytes.NewReader(r.text), 0, int64(len(r.text)))
	buf := make([]byte, 64<<10)
	for sent < len(r.text) {
		now := r.Now()
		for line < len(r.ends) && !r.at[line].After(now) {
			line++
		}
		due := 0
		if line > 0 {
			due = r.ends[line-1]
		}
		for sent < due {
			n, err := reader.ReadAt(buf[:min(len(buf), due-sent)], int64(sent))
			if n == 0 {
				return err
			}
			if err := to.Receive(buf[:n], time.Time{}); err != nil {
				return err
			}
			sent += n
		}
		r.mu.Lock()
		r.next = line
		r.mu.Unlock()
		if sent == len(r.text) {
			break
		}
		wait := time.Duration(float64(r.at[min(line, len(r.at)-1)].Sub(now)) / r.speed)
		if !sleep(ctx, min(max(wait, 5*time.Millisecond), time.Second)) {
			return ctx.Err()
		}
	}
	to.Link(LinkEnded, fmt.Sprintf("the replay of %s has come to its end", r.Name()))
	return nil
}
