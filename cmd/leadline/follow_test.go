package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"leadline/internal/follow"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/store"
	"leadline/internal/workbench"
)

// process is a real leadline that follows; what it says it has received is remembered.
type process struct {
	cmd  *exec.Cmd
	done chan error
	mu   sync.Mutex
	last follow.State
	text bytes.Buffer
}

// start runs the program as a process of its own: this test's binary under its name.
func start(t *testing.T, dir string, args ...string) *process {
	t.Helper()
	own, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "leadline")
	if _, err := os.Lstat(name); err != nil {
		if err := os.Symlink(own, name); err != nil {
			t.Fatal(err)
		}
	}
	p := &process{cmd: exec.Command(name, args...), done: make(chan error, 1)}
	p.cmd.Dir = dir
	p.cmd.Stderr = &p.text
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		lines := bufio.NewReader(out)
		for {
			line, err := lines.ReadBytes('\n')
			var e follow.Event
			if json.Unmarshal(line, &e) == nil && e.State != nil {
				p.mu.Lock()
				p.last = *e.State
				p.mu.Unlock()
			}
			if err != nil {
				break
			}
		}
		p.done <- p.cmd.Wait()
	}()
	t.Cleanup(func() { _ = p.cmd.Process.Kill() })
	return p
}

func (p *process) reported() int64 {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.last.Received
}

func received(t *testing.T, journal string) []byte {
	t.Helper()
	parts, _, _, err := follow.ReadJournal(journal)
	if err != nil {
		t.Fatal(err)
	}
	var all []byte
	for _, part := range parts {
		all = append(all, part.Bytes...)
	}
	return all
}

// wait waits for the process to end with a code.
func (p *process) wait(t *testing.T, limit time.Duration, codes ...int) {
	t.Helper()
	select {
	case <-p.done:
	case <-time.After(limit):
		t.Fatalf("the process does not end: %s", p.text.String())
	}
	for _, c := range codes {
		if p.cmd.ProcessState.ExitCode() == c {
			return
		}
	}
	t.Fatalf("exit code %d, want one of %v: %s", p.cmd.ProcessState.ExitCode(), codes, p.text.String())
}

// reportOfCheck is what check prints of a file.
func reportOfCheck(t *testing.T, path string) string {
	t.Helper()
	var out, errOut strings.Builder
	if code := run(context.Background(), []string{"check", path, "--json"}, strings.NewReader(""), &out, &errOut, time.Now); code != 0 && code != 3 {
		t.Fatalf("check: %s", errOut.String())
	}
	return out.String()
}

// reportOfLogbook is the same of the only flight in a logbook, whose source must be the
// file, bit for bit.
func reportOfLogbook(t *testing.T, path, source string) string {
	t.Helper()
	s, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	bench := workbench.New(s, time.Now)
	rows, err := bench.Rows(context.Background())
	if err != nil || len(rows) != 1 {
		t.Fatalf("%d flights in the logbook: %v", len(rows), err)
	}
	o, _, err := bench.Open(context.Background(), rows[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(source)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(b)
	if got := o.Final.Sources[0].SHA256; len(o.Final.Sources) != 1 || got != hex.EncodeToString(sum[:]) {
		t.Errorf("the logbook holds %d sources, the first with SHA-256 %s; want the file's own", len(o.Final.Sources), got)
	}
	// A flight of a logbook stands somewhere; a file that was only checked does not.
	if state := o.Final.SignOff.State; state != sounding.StateNew {
		t.Errorf("the flight is %s", state)
	}
	final, same := *o.Final, *o
	final.SignOff = sounding.SignOff{}
	same.Final = &final
	r, err := jsonReport(&same)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	if err := (&program{out: &out}).printJSON([]any{r}); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// simulateInto writes a simulated flight and returns its file.
func simulateInto(t *testing.T, dir string, args ...string) string {
	t.Helper()
	var out, errOut strings.Builder
	if code := run(context.Background(), append([]string{"simulate", "--seed", "6", "--out", dir}, args...), strings.NewReader(""), &out, &errOut, time.Now); code != 0 {
		t.Fatalf("simulate: %s", errOut.String())
	}
	return filepath.Join(dir, "sim-6.txt")
}

// Killed ten times in a replay, the program loses nothing it had received, and the flight
// in the logbook is that of check on the file.
func TestKilledTenTimesInAReplay(t *testing.T) {
	dir := t.TempDir()
	source := simulateInto(t, dir, "--fault", "humidity-icing")
	text, err := os.ReadFile(source)
	if err != nil {
		t.Fatal(err)
	}
	journal := filepath.Join(dir, "journal")
	args := []string{"follow", source, "--replay", "300x", "--json", "--journal", journal, "--logbook", filepath.Join(dir, "book.db")}
	r := rand.New(rand.NewPCG(7, 7))
	before := 0
	for k := range 10 {
		p := start(t, dir, args...)
		// Some are killed as soon as they have received anything, some in the middle.
		deadline := time.Now().Add(30 * time.Second)
		for len(received(t, journal)) <= before+1000 && time.Now().Before(deadline) {
			time.Sleep(5 * time.Millisecond)
		}
		time.Sleep(time.Duration(r.IntN(900)) * time.Millisecond)
		if err := p.cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		p.wait(t, 10*time.Second, -1)
		got := received(t, journal)
		if !bytes.HasPrefix(text, got) {
			t.Fatalf("kill %d: the journal is not the beginning of what was sent", k+1)
		}
		if int64(len(got)) < p.reported() || len(got) < before {
			t.Fatalf("kill %d: %d bytes in the journal, %d were received, %d before", k+1, len(got), p.reported(), before)
		}
		before = len(got)
	}
	if before == 0 || before == len(text) {
		t.Fatalf("%d of %d bytes after ten kills: the test proves nothing", before, len(text))
	}
	p := start(t, dir, append(args[:3:3], append([]string{"3000x"}, args[4:]...)...)...)
	p.wait(t, 2*time.Minute, 0, 3)
	if got, want := reportOfLogbook(t, filepath.Join(dir, "book.db"), source), reportOfCheck(t, source); got != want {
		t.Errorf("the followed flight differs from check on the file:\n%.1500s\n%.1500s", got, want)
	}
}

// The same with a stream that can not be asked again: whatever the program said it had
// received is in the journal, in order.
func TestKilledTenTimesOnAStream(t *testing.T) {
	dir := t.TempDir()
	source := simulateInto(t, dir)
	text, err := os.ReadFile(source)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var mu sync.Mutex
	var sent [][]byte // what each connection was given
	at := 0
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				mu.Lock()
				k := len(sent)
				sent = append(sent, nil)
				mu.Unlock()
				for {
					mu.Lock()
					if k != len(sent)-1 || at >= len(text) { // a newer connection, or the end
						mu.Unlock()
						return
					}
					chunk := text[at:min(len(text), at+300)]
					sent[k] = append(sent[k], chunk...)
					at += len(chunk)
					mu.Unlock()
					if _, err := c.Write(chunk); err != nil {
						return
					}
					time.Sleep(4 * time.Millisecond)
				}
			}()
		}
	}()
	journal := filepath.Join(dir, "journal")
	args := []string{"follow", "tcp://" + l.Addr().String(), "--record", filepath.Join(dir, "sim-6.launch.toml"), "--json", "--journal", journal, "--logbook", filepath.Join(dir, "book.db")}
	r := rand.New(rand.NewPCG(3, 9))
	total, reports := 0, 0
	for k := range 10 {
		p := start(t, dir, args...)
		deadline := time.Now().Add(30 * time.Second)
		for len(received(t, journal)) <= total && time.Now().Before(deadline) {
			time.Sleep(3 * time.Millisecond)
		}
		time.Sleep(time.Duration(150+r.IntN(500)) * time.Millisecond)
		_ = p.cmd.Process.Kill()
		p.wait(t, 10*time.Second, -1)
		now := len(received(t, journal))
		if int64(now) < p.reported() || now <= total {
			t.Fatalf("kill %d: %d bytes in the journal, %d were received, %d before", k+1, now, p.reported(), total)
		}
		total = now
		if p.reported() > 0 {
			reports++
		}
	}
	if reports < 3 {
		t.Errorf("only %d of ten processes lived to say what they had received: the test proves little", reports)
	}
	parts, _, _, err := follow.ReadJournal(journal)
	if err != nil || len(parts) < 5 {
		t.Fatalf("%d parts: %v", len(parts), err)
	}
	mu.Lock()
	defer mu.Unlock()
	// Each part is the beginning of what one connection was given, in order.
	k := 0
	for _, part := range parts {
		for k < len(sent) && !bytes.HasPrefix(sent[k], part.Bytes) {
			k++
		}
		if k == len(sent) {
			t.Fatalf("part %d (%d bytes) is not the beginning of what any connection was given", part.Number, len(part.Bytes))
		}
		k++
	}
}

// A real flight of a public archive, followed at 100 times its pace, ends as check on the
// whole file. It takes about a minute.
func TestRealFlightAtAHundredTimes(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: a replay of a real flight takes a minute")
	}
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*20060119.163300*"))
	if err != nil || len(files) != 1 {
		t.Fatalf("%d files: %v", len(files), err)
	}
	dir := t.TempDir()
	var out, errOut strings.Builder
	if code := run(context.Background(), []string{"check", files[0], "--format", "csv", "--out", dir, "--json"}, strings.NewReader(""), &out, &errOut, time.Now); code != 0 && code != 3 {
		t.Fatalf("check: %s", errOut.String())
	}
	tables, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(tables) != 1 {
		t.Fatalf("%d tables: %v", len(tables), err)
	}
	began := time.Now()
	p := start(t, dir, "follow", tables[0], "--replay", "100x", "--json", "--journal", filepath.Join(dir, "journal"), "--logbook", filepath.Join(dir, "book.db"))
	p.wait(t, 5*time.Minute, 0, 3)
	if got, want := reportOfLogbook(t, filepath.Join(dir, "book.db"), tables[0]), reportOfCheck(t, tables[0]); got != want {
		t.Errorf("the followed flight differs from check on the file:\n%.1500s\n%.1500s", got, want)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	usage := p.cmd.ProcessState
	t.Logf("%d rows in %.0f s; %d computations, the last %.0f ms; processor %.1f s; largest memory %s", p.last.Rows, time.Since(began).Seconds(), p.last.Cost.Count, p.last.Cost.Computation,
		(usage.UserTime() + usage.SystemTime()).Seconds(), largest(usage))
}

// A file that is not there yet, Ctrl-C, and going on: through the command line.
func TestFollowStopsAndGoesOn(t *testing.T) {
	dir := t.TempDir()
	source := simulateInto(t, dir)
	text, err := os.ReadFile(source)
	if err != nil {
		t.Fatal(err)
	}
	growing := filepath.Join(dir, "growing.txt")
	book := filepath.Join(dir, "book.db")
	step := func(more []byte, want int) string {
		ctx, stop := context.WithCancel(context.Background())
		var out, errOut safe
		done := make(chan int)
		go func() {
			done <- run(ctx, []string{"follow", growing, "--record", filepath.Join(dir, "sim-6.launch.toml"), "--logbook", book}, strings.NewReader(""), &out, &errOut, time.Now)
		}()
		f, err := os.OpenFile(growing, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o666)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(more); err != nil {
			t.Fatal(err)
		}
		f.Close()
		dirs := filepath.Join(dir, "leadline.live", "growing.txt-*")
		deadline := time.Now().Add(30 * time.Second)
		for time.Now().Before(deadline) {
			if found, _ := filepath.Glob(dirs); len(found) == 1 && len(received(t, found[0])) == want {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		time.Sleep(700 * time.Millisecond)
		stop()
		if code := <-done; code != 0 {
			t.Fatalf("code %d: %s", code, errOut.String())
		}
		return out.String()
	}
	half := len(text) / 2
	first := step(text[:half], half)
	second := step(text[half:], len(text))
	for _, c := range []struct{ text, want string }{{first, "growing.txt is read"}, {first, "everything received is kept in"}, {second, fmt.Sprintf("read on where the journal ends, at byte %d", half)}} {
		if !strings.Contains(c.text, c.want) {
			t.Errorf("%q is not in\n%s", c.want, c.text)
		}
	}
}

// safe is a writer for two goroutines.
type safe struct {
	mu sync.Mutex
	b  strings.Builder
}

func (s *safe) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safe) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}
