package follow

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func fixed() time.Time { return time.Date(2031, 6, 4, 5, 0, 0, 0, time.UTC) }

func TestJournalKeepsBytes(t *testing.T) {
	dir := t.TempDir()
	j, err := OpenJournal(dir, fixed)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Append([]byte("x")); err == nil {
		t.Error("bytes without a part were taken")
	}
	steps := []error{j.Begin("/a/flight.txt", 7), j.Append([]byte("one\n")), j.Append([]byte("tw")), j.Begin("tcp://127.0.0.1:1", 0), j.Append([]byte("three\n")), j.Close()}
	for _, err := range steps {
		if err != nil {
			t.Fatal(err)
		}
	}
	parts, notes, unread, err := ReadJournal(dir)
	if err != nil || unread != 0 {
		t.Fatal(err, unread)
	}
	if len(parts) != 2 || string(parts[0].Bytes) != "one\ntw" || string(parts[1].Bytes) != "three\n" || parts[0].From != "/a/flight.txt" || parts[0].Offset != 7 {
		t.Errorf("parts %+v", parts)
	}
	if len(notes) < 2 || notes[0].Event != noteOpened {
		t.Errorf("notes %+v", notes)
	}
}

// Whatever is torn off or damaged, the journal opens, gives the bytes that are there, and
// takes more behind them.
func TestJournalAfterDamage(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	text := []byte(strings.Repeat("2031-06-04T05:00:00Z,1013.2,20.5,44\n", 40))
	for k := range 300 {
		dir := t.TempDir()
		j, err := OpenJournal(dir, fixed)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 3 {
			if err := errors.Join(j.Begin("/a/flight.txt", int64(i)), j.Append(text), j.Note(Note{Event: noteAlarm, Kind: AlarmSlow, Text: "slow"})); err != nil {
				t.Fatal(err)
			}
		}
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		name := []string{"part-003.received", "notes.jsonl"}[k%2]
		path := filepath.Join(dir, name)
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		switch k % 5 {
		case 0:
			b = b[:r.IntN(len(b))]
		case 1:
			b = append(b, make([]byte, residue+r.IntN(4096))...)
		case 2:
			for range 1 + r.IntN(20) {
				b[r.IntN(len(b))] = byte(r.IntN(256))
			}
		case 3:
			at := r.IntN(len(b))
			b = append(append(append([]byte{}, b[:at]...), bytes.Repeat([]byte{0xff, '{'}, r.IntN(40000))...), b[at:]...)
		case 4:
			b = nil
		}
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
		want := text
		if name == "part-003.received" {
			want = withoutResidue(b)
		}
		j, err = OpenJournal(dir, fixed)
		if err != nil {
			t.Fatalf("damage %d of %s: %v", k%5, name, err)
		}
		parts := j.Parts()
		if len(parts) != 3 || !bytes.Equal(parts[0].Bytes, text) || !bytes.Equal(parts[2].Bytes, want) {
			t.Fatalf("damage %d of %s: bytes are not those of the file", k%5, name)
		}
		if err := errors.Join(j.Append([]byte("more\n")), j.Close()); err != nil {
			t.Fatal(err)
		}
		parts, notes, _, err := ReadJournal(dir)
		if err != nil || !bytes.Equal(parts[2].Bytes, append(append([]byte{}, want...), "more\n"...)) {
			t.Fatalf("damage %d of %s: what came later does not stand behind what was there: %v", k%5, name, err)
		}
		for _, n := range notes {
			if !n.valid() {
				t.Fatalf("an impossible note: %+v", n)
			}
		}
	}
}

// Bytes that the disk refuses are kept and written when it takes them again.
func TestDiskThatRefuses(t *testing.T) {
	dir := t.TempDir()
	j, err := OpenJournal(dir, fixed)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(j.Begin("x", 0), j.Append([]byte("one\n"))); err != nil {
		t.Fatal(err)
	}
	good := j.out
	if j.out, err = os.Open(good.Name()); err != nil { // for reading only: every write fails
		t.Fatal(err)
	}
	if err := j.Append([]byte("two\n")); err != nil {
		t.Fatal(err)
	}
	if _, unsaved := j.Total(); unsaved != 4 || j.Failed() == nil {
		t.Errorf("%d bytes unsaved, error %v; want 4 and an error", unsaved, j.Failed())
	}
	if err := j.Begin("y", 0); err == nil {
		t.Error("a new part was begun before the old one was saved")
	}
	j.out.Close()
	j.out = good
	if err := j.Append([]byte("three\n")); err != nil {
		t.Fatal(err)
	}
	if _, unsaved := j.Total(); unsaved != 0 || j.Failed() != nil {
		t.Errorf("%d bytes unsaved, error %v", unsaved, j.Failed())
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(good.Name()); string(b) != "one\ntwo\nthree\n" {
		t.Errorf("on disk: %q", b)
	}
}

func FuzzNotes(f *testing.F) {
	f.Add([]byte(`{"utc":"2031-06-04T05:00:00Z","part":1,"at":0,"event":"opened","from":"a","offset":3}` + "\n"))
	f.Add([]byte("{\"utc\":\"2031-06-04T05:00:00Z\",\"part\":-1,\"event\":\"opened\"}\n{\"torn"))
	f.Add(bytes.Repeat([]byte("{"), maxNote+10))
	f.Fuzz(func(t *testing.T, b []byte) {
		notes, unread := readNotes(bytes.NewReader(b))
		if lines := bytes.Count(b, []byte("\n")) + 1; len(notes)+unread > lines {
			t.Fatalf("%d notes and %d unread of %d lines", len(notes), unread, lines)
		}
		for _, n := range notes {
			if !n.valid() {
				t.Fatalf("impossible: %+v", n)
			}
			line, err := n.line()
			if err != nil {
				t.Fatal(err)
			}
			again, unread := readNotes(bytes.NewReader(line))
			if unread != 0 || len(again) != 1 || again[0].Event != n.Event || !again[0].UTC.Equal(n.UTC) {
				t.Fatalf("%+v is read back as %+v", n, again)
			}
		}
	})
}

// Parts become sources as a person would say.
func TestSourcesOfParts(t *testing.T) {
	part := func(from string, offset int64, b string) Part {
		return Part{From: from, Offset: offset, Bytes: []byte(b)}
	}
	for _, c := range []struct {
		name     string
		preamble bool
		whole    bool
		parts    []Part
		want     []string
	}{
		{"one", true, true, []Part{part("/f", 0, "h\n1\n2")}, []string{"h\n1\n2"}},
		{"one, its last line not ended", true, false, []Part{part("/f", 0, "h\n1\n2")}, []string{"h\n1\n"}},
		{"a stream torn in a line", false, true, []Part{part("tcp://x", 0, "1,2\n3,"), part("tcp://x", 0, "5,6\n")}, []string{"1,2\n3,\n5,6\n"}},
		{"a stream that says its head again", true, true, []Part{part("tcp://x", 0, "h\n1\n"), part("tcp://x", 0, "h\n2\n")}, []string{"h\n1\n", "h\n2\n"}},
		{"a new file with a head of its own", true, true, []Part{part("/f", 0, "head of 5 h\n1\n"), part("/f", 0, "head of 6 h\n2\n")}, []string{"head of 5 h\n1\n", "head of 6 h\n2\n"}},
		{"a new file without heads", false, true, []Part{part("/f", 0, "1\n"), part("/f", 0, "2\n")}, []string{"1\n2\n"}},
		{"nothing whole", false, false, []Part{part("/f", 0, "1")}, nil},
		{"an empty part", false, true, []Part{part("/f", 0, ""), part("/f", 0, "2\n")}, []string{"2\n"}},
	} {
		files := sourcesOf("f.txt", c.parts, c.preamble, c.whole)
		var got []string
		for _, f := range files {
			got = append(got, string(f.Bytes))
		}
		if strings.Join(got, "|") != strings.Join(c.want, "|") {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
