package bufr

import (
	"bytes"
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"leadline/internal/sharedtest"
)

// memoryLimit is what reading one message, however damaged, may allocate in all.
const memoryLimit = 64 << 20

// written returns messages of our own, so that these tests do not depend on the shared folder.
func written(t testing.TB) [][]byte {
	t.Helper()
	var out [][]byte
	for _, c := range []struct {
		compressed  bool
		descriptors []Descriptor
	}{
		{false, templates["309057"]}, {true, templates["309052"]}, {false, templates["309007"]},
		{false, operators["222 236 237"]}, {false, operators["203"]}, {true, operators["nested"]}, {false, operators["nested"]},
		{false, operators["204"]}, {true, operators["224"]}, {false, operators["232"]},
	} {
		e, err := NewEncoder(header(4, c.compressed, c.descriptors...), nil)
		if err != nil {
			t.Fatal(err)
		}
		fill(e, rand.New(rand.NewPCG(1, 1)), []int{1})
		b, err := e.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, b)
	}
	return out
}

// read reads everything in b in every way there is, and returns the number of messages that decoded. It checks
// that a failed decode leaves nothing behind.
func read(t testing.TB, b []byte, reencode bool) (decoded int) {
	r := NewReader(bytes.NewReader(b))
	var p Inspector
	for {
		m, err := r.Next()
		if err == io.EOF {
			return decoded
		}
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || m != nil || e.Offset < 0 || e.Offset > int64(len(b)) {
				t.Fatalf("error %v with message %v", err, m)
			}
			continue
		}
		d, err := Decode(m)
		if err != nil {
			if d.Subsets() != 0 || d.Message != nil || d.Program != nil || len(d.segs) > 0 {
				t.Fatalf("a decode that failed with %v leaves something behind", err)
			}
			continue
		}
		decoded++
		for i := range d.Subsets() {
			s := d.Subset(i)
			n := 0
			for it := range s.Items() {
				if it.Target >= s.Len() || it.Target < -1 {
					t.Fatalf("item %d qualifies %d of %d", it.Index, it.Target, s.Len())
				}
				it.Value()
				n++
			}
			if n != s.Len() {
				t.Fatalf("%d items, Len is %d", n, s.Len())
			}
			for _, table := range s.Tables() {
				for c := range table.Fields() {
					if k := len(table.Float64s(c, nil)); k != table.Rows() {
						t.Fatalf("%d rows, Rows is %d", k, table.Rows())
					}
					table.Raws(c, nil)
				}
			}
		}
		if err := p.Text(io.Discard, d); err != nil {
			t.Fatal(err)
		}
		if err := p.JSON(io.Discard, d); err != nil {
			t.Fatal(err)
		}
		if reencode {
			if again, err := Reencode(d, m.Compressed); err == nil {
				decodeAll(t, again)
			}
		}
	}
}

// mutate damages a message in one of the ways that happen to messages, or that someone would try.
func mutate(r *rand.Rand, in []byte) []byte {
	b := bytes.Clone(in)
	for range 1 + r.IntN(3) {
		switch r.IntN(7) {
		case 0: // cut
			b = b[:r.IntN(len(b)+1)]
		case 1: // flip bits
			for range 1 + r.IntN(8) {
				if len(b) > 0 {
					b[r.IntN(len(b))] ^= 1 << r.IntN(8)
				}
			}
		case 2: // the message's length lies, perhaps with the end moved there
			if len(b) > 8 {
				b[4], b[5], b[6] = byte(r.Uint32()), byte(r.Uint32()), byte(r.Uint32())
				if n := uint24(b[4:]); n > 4 && n <= len(b) {
					copy(b[n-4:], "7777")
				}
			}
		case 3: // the length of a section lies
			if len(b) > 60 {
				at := 8 + r.IntN(40)
				b[at], b[at+1], b[at+2] = 0, byte(r.IntN(4)), byte(r.Uint32())
			}
		case 4: // descriptors
			if len(b) > 40 {
				binary.BigEndian.PutUint16(b[30+r.IntN(9):], uint16(r.Uint32()))
			}
		case 5: // a run of ones or zeros: factors, counts
			if len(b) > 50 {
				at := 40 + r.IntN(len(b)-45)
				for i := range 1 + r.IntN(4) {
					b[at+i] = byte(-(r.IntN(2)))
				}
			}
		case 6: // subsets, compressed
			if len(b) > 45 {
				b[34], b[35], b[36] = byte(r.Uint32()), byte(r.Uint32()), b[36]^0x40
			}
		}
		if len(b) == 0 {
			break
		}
	}
	return b
}

var mutations = flag.Int("mutations", 6000, "damaged messages that TestMutations reads")

// TestMutations damages messages and reads them: no panic, no half result, and each takes less than memoryLimit,
// counted as all bytes ever allocated. The long run is FuzzDecode.
func TestMutations(t *testing.T) {
	sources := written(t)
	if dir := filepath.Join(sharedtest.Root(t), "..", "shared", "data", "bufr"); true {
		names, _ := filepath.Glob(filepath.Join(dir, "*.bufr"))
		for _, name := range names {
			b, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			sources = append(sources, b)
		}
	}
	r := rand.New(rand.NewPCG(2026, 11))
	var before, after runtime.MemStats
	most, decoded := uint64(0), 0
	rounds := *mutations
	for range rounds {
		source := sources[r.IntN(len(sources))]
		if len(source) > 20000 && r.IntN(20) > 0 {
			source = sources[r.IntN(10)]
		}
		b := mutate(r, source)
		runtime.ReadMemStats(&before)
		decoded += read(t, b, false)
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; n > most {
			most = n
			if n > memoryLimit {
				t.Fatalf("%d bytes allocated for a message of %d", n, len(b))
			}
		}
	}
	t.Logf("%d mutations, %d still decode, at most %d bytes allocated for one", rounds, decoded, most)
	if decoded == 0 || decoded > 2*rounds {
		t.Errorf("%d of %d decode: the mutations do not do what they should", decoded, rounds)
	}
}

// TestBombs: small messages that stand for enormous ones are refused, fast and in little memory.
func TestBombs(t *testing.T) {
	nested := func(n int, y int) []Descriptor {
		var out []Descriptor
		for i := range n {
			out = append(out, FXY(1, n-i, y))
		}
		return append(out, FXY(0, 12, 101))
	}
	delayed := []Descriptor{FXY(1, 6, 0), FXY(0, 31, 2), FXY(1, 4, 0), FXY(0, 31, 2), FXY(1, 2, 0), FXY(0, 31, 2), FXY(2, 1, 130), FXY(2, 1, 0)}
	repeated := []Descriptor{FXY(1, 1, 0), FXY(0, 31, 12), FXY(0, 12, 101), FXY(1, 1, 0), FXY(0, 31, 12), FXY(0, 12, 101)}
	for name, c := range map[string]struct {
		descriptors []Descriptor
		subsets     int
		compressed  bool
		ok          bool
	}{
		"fixed replications 255 deep in 255":     {nested(4, 255), 1, false, false},
		"replications of one, 31 deep":           {nested(31, 1), 1, false, true},
		"delayed replications of nothing":        {delayed, 1, false, false},
		"delayed replications, 65535 subsets":    {delayed, 65535, false, false},
		"values repeated without data":           {repeated, 1, false, true},
		"values repeated, 65535 subsets":         {repeated, 65535, false, false},
		"nothing at all, 65535 subsets":          {[]Descriptor{FXY(2, 1, 0)}, 65535, false, true},
		"operators only, compressed":             {[]Descriptor{FXY(2, 22, 0), FXY(2, 35, 0)}, 65535, true, true},
		"compressed, 65535 subsets":              {[]Descriptor{FXY(3, 9, 52)}, 65535, true, false},
		"absent elements, repeated 65535 times":  {[]Descriptor{FXY(1, 2, 0), FXY(0, 31, 2), FXY(2, 21, 1), FXY(0, 12, 101), FXY(1, 2, 0), FXY(0, 31, 2), FXY(2, 21, 1), FXY(0, 12, 101)}, 65535, false, false},
		"a bit-map longer than what precedes it": {[]Descriptor{FXY(0, 12, 101), FXY(2, 22, 0), FXY(1, 1, 0), FXY(0, 31, 2), FXY(0, 31, 31)}, 1, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			h := header(4, c.compressed, c.descriptors...)
			h.Subsets = c.subsets
			b, err := appendMessage(nil, &h, bytes.Repeat([]byte{255}, 40))
			if err != nil {
				t.Fatal(err)
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			m, err := NewBytesReader(b).Next()
			if err != nil {
				t.Fatal(err)
			}
			d, err := Decode(m)
			runtime.ReadMemStats(&after)
			if n := after.TotalAlloc - before.TotalAlloc; n > memoryLimit {
				t.Errorf("%d bytes allocated", n)
			}
			if (err == nil) != c.ok {
				t.Errorf("error %v, want one: %v", err, !c.ok)
			}
			if err != nil {
				t.Log(err)
				if d.Subsets() != 0 {
					t.Error("something is left behind")
				}
			}
		})
	}
}

// TestCutAnywhere: every beginning of a message is refused with the byte at which it starts, never decoded.
func TestCutAnywhere(t *testing.T) {
	b := written(t)[0]
	for n := range b {
		r := NewReader(bytes.NewReader(append([]byte("x"), b[:n]...)))
		m, err := r.Next()
		if m != nil {
			t.Fatalf("%d of %d octets give a message", n, len(b))
		}
		var e *Error
		if n >= 4 && (!errors.As(err, &e) || e.Offset != 1) {
			t.Fatalf("%d of %d octets: %v", n, len(b), err)
		}
		if n < 4 && err != io.EOF {
			t.Fatalf("%d octets: %v", n, err)
		}
	}
}

// TestStream: headings, garbage and a damaged message between good ones; what is skipped is named; nothing is lost.
func TestStream(t *testing.T) {
	good := written(t)
	var s bytes.Buffer
	s.WriteString("\x01\r\r\n123\r\r\nIUSC01 LAKE 251200\r\r\n")
	s.Write(good[0])
	s.WriteString("\r\r\n\x03")
	s.WriteString("\x01\r\r\n124\r\r\nIUKC02 LAKE 251200 RRA\r\r\n")
	s.Write(good[1])
	s.WriteString("this is no message but mentions BUFR by chance " + strings.Repeat("z", 500))
	lie := bytes.Clone(good[2])
	lie[4] = 0x7F // declares 8 MB
	at := s.Len()
	s.Write(lie)
	s.Write(good[3])
	altered := bytes.Clone(good[0])
	altered[len(altered)-2] = '6'
	at2 := s.Len()
	s.Write(altered)
	s.Write(good[0])
	s.WriteString("NNNN")
	for name, reader := range map[string]*Reader{
		"whole":       NewReader(bytes.NewReader(s.Bytes())),
		"bytes":       NewBytesReader(s.Bytes()),
		"one by one":  NewReader(iotest.OneByteReader(bytes.NewReader(s.Bytes()))),
		"halves":      NewReader(iotest.HalfReader(bytes.NewReader(s.Bytes()))),
		"end at once": NewReader(iotest.DataErrReader(bytes.NewReader(s.Bytes()))),
	} {
		t.Run(name, func(t *testing.T) {
			var got []*Message
			var bad []int64
			for {
				m, err := reader.Next()
				if err == io.EOF {
					break
				}
				var e *Error
				if errors.As(err, &e) {
					bad = append(bad, e.Offset)
					continue
				}
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, m)
			}
			if len(got) != 4 || len(bad) != 3 {
				t.Fatalf("%d messages and %d damaged ones at %v", len(got), len(bad), bad)
			}
			if bad[1] != int64(at) || bad[2] != int64(at2+len(altered)-4) {
				t.Errorf("damaged at %v, want …, %d, %d", bad, at, at2+len(altered)-4)
			}
			for i, m := range got {
				want := good[[]int{0, 1, 3, 0}[i]]
				if m.Length != len(want) || !bytes.Equal(s.Bytes()[m.Offset:m.Offset+int64(m.Length)], want) {
					t.Errorf("message %d: %d octets at %d", i, m.Length, m.Offset)
				}
			}
			if g := got[0].Before; g.Heading != "IUSC01 LAKE 251200" || !g.OnlyHeading() {
				t.Errorf("before the first: %s", g.String())
			}
			if g := got[1].Before; g.Heading != "IUKC02 LAKE 251200 RRA" || !g.OnlyHeading() {
				t.Errorf("before the second: %s", g.String())
			}
			if g := got[2].Before; g.OnlyHeading() || g.Length < 500 {
				t.Errorf("before the third: %s", g.String())
			}
			if g := reader.Trailing(); g.Length != 4 || string(g.Tail) != "NNNN" {
				t.Errorf("at the end: %s", g.String())
			}
		})
	}
}

func TestSourceError(t *testing.T) {
	want := errors.New("the cable was pulled")
	b := written(t)[0]
	r := NewReader(io.MultiReader(bytes.NewReader(b[:50]), iotest.ErrReader(want)))
	if m, err := r.Next(); m != nil || !errors.Is(err, want) {
		t.Errorf("message %v, error %v", m, err)
	}
}

type idle struct{}

func (idle) Read([]byte) (int, error) { return 0, nil }

func TestSourceWithoutProgress(t *testing.T) {
	if _, err := NewReader(idle{}).Next(); !errors.Is(err, io.ErrNoProgress) {
		t.Errorf("error %v", err)
	}
}

// TestLyingLengthReadsNoMemory: a stream that declares 16 MB and holds 100 bytes allocates little.
func TestLyingLengthReadsNoMemory(t *testing.T) {
	b := append([]byte("BUFR\xff\xff\xff\x04"), make([]byte, 92)...)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if m, err := NewReader(bytes.NewReader(b)).Next(); m != nil || err == nil {
		t.Errorf("message %v, error %v", m, err)
	}
	runtime.ReadMemStats(&after)
	if n := after.TotalAlloc - before.TotalAlloc; n > 1<<20 {
		t.Errorf("%d bytes allocated", n)
	}
}

func TestErrorsName(t *testing.T) {
	for _, c := range []struct {
		descriptors []Descriptor
		path        string
		contains    string
	}{
		{[]Descriptor{FXY(3, 9, 52), FXY(0, 12, 230)}, "012230", "local one"},
		{[]Descriptor{FXY(3, 9, 200)}, "309200", "local one"},
		{[]Descriptor{FXY(3, 9, 57)}, "309057", "versions 31 to 39"},
		{[]Descriptor{FXY(1, 5, 0), FXY(0, 31, 1), FXY(0, 12, 101)}, "105000", "covers 5"},
		{[]Descriptor{FXY(1, 1, 0), FXY(0, 12, 101)}, "101000", "no replication factor"},
		{[]Descriptor{FXY(2, 50, 1)}, "250001", "not carried"},
		{[]Descriptor{FXY(1, 1, 2), FXY(2, 1, 130)}, "101002", "not closed"},
	} {
		h := header(4, false, c.descriptors...)
		h.TableVersion = 20
		h.Subsets = 1
		b, err := appendMessage(nil, &h, make([]byte, 100))
		if err != nil {
			t.Fatal(err)
		}
		m, err := NewBytesReader(b).Next()
		if err != nil {
			t.Fatal(err)
		}
		_, err = Decode(m)
		var e *Error
		if !errors.As(err, &e) || !strings.HasSuffix(e.Path, c.path) || !strings.Contains(e.Problem, c.contains) {
			t.Errorf("%v: %v; want path %s and %q", c.descriptors, err, c.path, c.contains)
		}
	}
	// In the data: byte, bit and the row.
	b := written(t)[0]
	m, err := NewBytesReader(b).Next()
	if err != nil {
		t.Fatal(err)
	}
	m.Data = m.Data[:len(m.Data)-12]
	_, err = Decode(m)
	var e *Error
	if !errors.As(err, &e) || e.Path == "" || e.Offset < m.DataOffset || !strings.Contains(fmt.Sprint(err), "309057/101000") {
		t.Errorf("cut data: %v", err)
	}
}

// FuzzDecode reads arbitrary bytes; the properties are those of read, and the memory bound.
func FuzzDecode(f *testing.F) {
	for _, b := range written(f) {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		read(t, b, false)
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; n > memoryLimit {
			t.Fatalf("%d bytes allocated for %d", n, len(b))
		}
	})
}

// FuzzReencode: what decodes and can be written again has the same values.
func FuzzReencode(f *testing.F) {
	for _, b := range written(f) {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := NewBytesReader(b).Next()
		if err != nil {
			return
		}
		d, err := Decode(m)
		if err != nil || d.Subsets() == 0 {
			return
		}
		for _, compressed := range []bool{m.Compressed, !m.Compressed} {
			again, err := Reencode(d, compressed)
			if err != nil {
				continue // differing structures, over-long messages, octets past 16 MB
			}
			w, err := NewBytesReader(again).Next()
			if err != nil {
				t.Fatal(err)
			}
			e, err := Decode(w)
			if err != nil {
				if !compressed && m.Subsets > 1000 && strings.Contains(err.Error(), "parts that differ in length") {
					continue // many subsets with short loops: more parts than we keep, without compression
				}
				t.Fatal(err)
			}
			sameValues(t, d, e)
		}
	})
}
