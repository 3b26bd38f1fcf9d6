package bufr

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
)

// sounding writes a small message by hand, the way a mapper does.
func writeSounding(t *testing.T, compressed bool, edition int) []byte {
	t.Helper()
	e, err := NewEncoder(header(edition, compressed, FXY(3, 9, 52)), nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		e.Code(FXY(0, 1, 1), 10)
		e.Code(FXY(0, 1, 2), 393+i)
		e.Text(FXY(0, 1, 11), []string{"LAKE", ""}[i])
		e.MissingUntil(FXY(0, 5, 1))
		e.Number(FXY(0, 5, 1), 52.20931)
		e.Number(FXY(0, 6, 1), 14.12046)
		e.MissingUntil(FXY(0, 31, 2))
		e.Table(3,
			Column{FXY(0, 4, 86), []float64{0, 1, 2}},
			Column{FXY(0, 8, 42), []float64{131072, 0, 16}},
			Column{FXY(0, 7, 4), []float64{101325, 100000, 2000}},
			Column{FXY(0, 12, 101), []float64{273.15 + float64(i), math.NaN(), 200}},
		)
		e.Table(0)
		e.EndSubset()
	}
	b, err := e.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestTableAndFind(t *testing.T) {
	for _, compressed := range []bool{false, true} {
		for edition := 2; edition <= 4; edition++ {
			b := writeSounding(t, compressed, edition)
			if edition < 4 && len(b)%2 != 0 {
				t.Errorf("edition %d has an odd number of octets", edition)
			}
			d := decodeAll(t, b)[0]
			if d.Unread() != 0 {
				t.Errorf("%d unread octets", d.Unread())
			}
			for i := range 2 {
				s := d.Subset(i)
				if v := s.Number(FXY(0, 1, 2), 0); v != float64(393+i) {
					t.Errorf("station number %v", v)
				}
				if v := s.Text(FXY(0, 1, 11), 0); v != []string{"LAKE", ""}[i] {
					t.Errorf("identifier %q", v)
				}
				if it, ok := s.Find(FXY(0, 20, 12), 2); !ok || !it.Missing || it.Path() != "309052/302049/020012" {
					t.Errorf("third cloud type: %v", ok)
				}
				if _, ok := s.Find(FXY(0, 20, 12), 3); ok {
					t.Error("a fourth cloud type")
				}
				if v := s.Number(FXY(0, 5, 1), 0); v != 52.20931 {
					t.Errorf("latitude %v", v)
				}
				tables := s.Tables()
				if len(tables) != 2 || tables[0].Rows() != 3 || tables[1].Rows() != 0 {
					t.Fatalf("%d tables", len(tables))
				}
				levels, ok := s.TableWith(FXY(0, 7, 4), FXY(0, 12, 101))
				if !ok {
					t.Fatal("no level table")
				}
				got := levels.Float64s(levels.Column(FXY(0, 12, 101), 0), nil)
				if len(got) != 3 || got[0] != 273.15+float64(i) || !math.IsNaN(got[1]) || got[2] != 200 {
					t.Errorf("temperature %v", got)
				}
				if p := levels.Float64s(levels.Column(FXY(0, 7, 4), 0), got); !slices.Equal(p, []float64{101325 - 5, 100000, 2000}) && !slices.Equal(p, []float64{101330, 100000, 2000}) {
					t.Errorf("pressure %v", p) // 10 Pa resolution
				}
				if raw := levels.Raws(levels.Column(FXY(0, 8, 42), 0), nil); !slices.Equal(raw, []uint64{131072, 0, 16}) {
					t.Errorf("significance %v", raw)
				}
				if levels.Column(FXY(0, 7, 4), 1) != -1 || levels.Column(FXY(0, 1, 1), 0) != -1 {
					t.Error("a column that is not there")
				}
			}
		}
	}
}

func TestEncoderErrors(t *testing.T) {
	begin := func() *Encoder {
		e, err := NewEncoder(header(4, false, FXY(0, 1, 1), FXY(0, 1, 11), FXY(1, 1, 0), FXY(0, 31, 1), FXY(0, 12, 101)), nil)
		if err != nil {
			t.Fatal(err)
		}
		return e
	}
	for name, c := range map[string]struct {
		do   func(*Encoder)
		want string
	}{
		"another element":   {func(e *Encoder) { e.Code(FXY(0, 1, 2), 1) }, "the template has 001001"},
		"too large":         {func(e *Encoder) { e.Code(FXY(0, 1, 1), 127) }, "holds 0 to 126"},
		"infinite":          {func(e *Encoder) { e.Number(FXY(0, 1, 1), math.Inf(1)) }, "holds 0 to 126"},
		"negative":          {func(e *Encoder) { e.Code(FXY(0, 1, 1), -1) }, "holds 0 to 126"},
		"text for a number": {func(e *Encoder) { e.Text(FXY(0, 1, 1), "a") }, "a text for"},
		"number for a text": {func(e *Encoder) { e.Code(FXY(0, 1, 1), 1); e.Code(FXY(0, 1, 11), 1) }, "a number for"},
		"long text":         {func(e *Encoder) { e.Code(FXY(0, 1, 1), 1); e.Text(FXY(0, 1, 11), "ABCDEFGHIJ") }, "room for 9"},
		"unprintable text":  {func(e *Encoder) { e.Code(FXY(0, 1, 1), 1); e.Text(FXY(0, 1, 11), "É") }, "cannot print"},
		"ends early":        {func(e *Encoder) { e.Code(FXY(0, 1, 1), 1); e.EndSubset() }, "ends before 001011"},
		"columns and rows": {func(e *Encoder) {
			e.Code(FXY(0, 1, 1), 1)
			e.Text(FXY(0, 1, 11), "")
			e.Table(2, Column{FXY(0, 12, 101), []float64{1}})
		}, "1 values for 2 rows"},
		"wrong column": {func(e *Encoder) {
			e.Code(FXY(0, 1, 1), 1)
			e.Text(FXY(0, 1, 11), "")
			e.Table(2, Column{FXY(0, 7, 4), nil})
		}, "no column 007004"},
		"value in a table": {func(e *Encoder) {
			e.Code(FXY(0, 1, 1), 1)
			e.Text(FXY(0, 1, 11), "")
			e.Table(1, Column{FXY(0, 12, 101), []float64{900}})
		}, "101000[1]/012101: 012101"},
		"too many rows":         {func(e *Encoder) { e.Code(FXY(0, 1, 1), 1); e.Text(FXY(0, 1, 11), ""); e.Repeat(256) }, "holds 0 to 255"},
		"factor out of place":   {func(e *Encoder) { e.Repeat(2) }, "replication factor where"},
		"missing past a factor": {func(e *Encoder) { e.MissingUntil(FXY(0, 7, 4)) }, "031001 (Delayed descriptor replication factor) cannot be missing"},
		"no subset":             {func(e *Encoder) {}, "without subsets"},
		"beyond the end": {func(e *Encoder) {
			e.Code(FXY(0, 1, 1), 1)
			e.Text(FXY(0, 1, 11), "")
			e.Table(0)
			e.Code(FXY(0, 1, 1), 1)
		}, "after the end"},
	} {
		e := begin()
		c.do(e)
		if b, err := e.Bytes(); b != nil || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", name, err, c.want)
		}
	}
	e, err := NewEncoder(header(4, true, FXY(1, 1, 0), FXY(0, 31, 1), FXY(0, 12, 101)), nil)
	if err != nil {
		t.Fatal(err)
	}
	for n := range 2 {
		e.Table(n, Column{FXY(0, 12, 101), make([]float64, n)})
		e.EndSubset()
	}
	if _, err := e.Bytes(); err == nil || !strings.Contains(err.Error(), "write it uncompressed") {
		t.Errorf("differing subsets compressed: %v", err)
	}
	h := header(4, false, FXY(0, 12, 101))
	h.TableVersion = 99
	if _, err := NewEncoder(h, nil); err == nil {
		t.Error("a table version that is not carried is written")
	}
	h = header(3, false, FXY(0, 1, 1))
	h.Centre = 300
	e, err = NewEncoder(h, nil)
	if err != nil {
		t.Fatal(err)
	}
	e.Code(FXY(0, 1, 1), 1)
	e.EndSubset()
	if _, err := e.Bytes(); err == nil || !strings.Contains(err.Error(), "originating centre is 300") {
		t.Errorf("a centre beyond one octet in edition 3: %v", err)
	}
}

// TestLocalTables: a user's definitions make a local template readable and writable.
func TestLocalTables(t *testing.T) {
	local := &LocalTables{
		Elements:  map[Descriptor]Element{FXY(0, 12, 230): {Name: "Temperature of the battery", Unit: "K", Scale: 1, Width: 12}},
		Sequences: map[Descriptor][]Descriptor{FXY(3, 63, 200): {FXY(0, 1, 1), FXY(0, 12, 230)}},
	}
	h := header(4, false, FXY(3, 63, 200))
	if _, err := NewEncoder(h, nil); err == nil {
		t.Error("a local sequence without its definition is accepted")
	}
	e, err := NewEncoder(h, local)
	if err != nil {
		t.Fatal(err)
	}
	e.Code(FXY(0, 1, 1), 3)
	e.Number(FXY(0, 12, 230), 291.3)
	e.EndSubset()
	b, err := e.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	m, err := NewReader(bytes.NewReader(b)).Next()
	if err != nil {
		t.Fatal(err)
	}
	var d Data
	if err := d.Decode(m, nil); err == nil {
		t.Error("a local sequence without its definition is decoded")
	}
	if err := d.Decode(m, local); err != nil {
		t.Fatal(err)
	}
	if v := d.Subset(0).Number(FXY(0, 12, 230), 0); v != 291.3 {
		t.Errorf("%v", v)
	}
	// A sequence that holds itself is refused.
	local.Sequences[FXY(3, 63, 201)] = []Descriptor{FXY(3, 63, 201), FXY(3, 63, 201)}
	if _, err := NewEncoder(header(4, false, FXY(3, 63, 201)), local); err == nil {
		t.Error("a sequence that holds itself is accepted")
	}
}

// TestBackReference: the same bit-map 1 0 1 selects the second of three elements under each operator that refers back
// (FM 94, regulation on the data present bit-map: bits refer, in order, to the elements that end right before the operator).
func TestBackReference(t *testing.T) {
	for _, x := range []int{23, 24, 25, 32} {
		e, err := NewEncoder(header(4, false, FXY(0, 12, 101), FXY(0, 7, 4), FXY(0, 11, 1), FXY(2, x, 0), FXY(1, 1, 3), FXY(0, 31, 31), FXY(0, 1, 31), FXY(2, x, 255)), nil)
		if err != nil {
			t.Fatal(err)
		}
		e.Number(FXY(0, 12, 101), 280)
		e.Number(FXY(0, 7, 4), 85000)
		e.Number(FXY(0, 11, 1), 270)
		e.Code(FXY(0, 31, 31), 1)
		e.Code(FXY(0, 31, 31), 0)
		e.Code(FXY(0, 31, 31), 1)
		e.Code(FXY(0, 1, 31), 98)
		want := 1200.0
		if x == 25 {
			want = -1200 // only differences can be negative
		}
		e.Number(FXY(2, x, 255), want)
		e.EndSubset()
		b, err := e.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for it := range decodeAll(t, b)[0].Subset(0).Items() {
			if it.Field.Operator == FXY(2, x, 255) {
				n++
				if it.Target != 1 || it.Field.Descriptor != FXY(0, 7, 4) || it.Value() != want {
					t.Errorf("2 %02d 255: qualifies %d, %s, %v", x, it.Target, it.Field.Descriptor, it.Value())
				}
			}
		}
		if n != 1 {
			t.Errorf("2 %02d 255: %d values", x, n)
		}
	}
}

// TestDataRepetition: 0 31 011 and 0 31 012 repeat the data, which stand in the message once.
func TestDataRepetition(t *testing.T) {
	for _, compressed := range []bool{false, true} {
		e, err := NewEncoder(header(4, compressed, FXY(1, 2, 0), FXY(0, 31, 11), FXY(0, 12, 101), FXY(0, 11, 1), FXY(0, 7, 4)), nil)
		if err != nil {
			t.Fatal(err)
		}
		e.Repeat(4)
		e.Number(FXY(0, 12, 101), 280.5)
		e.Number(FXY(0, 11, 1), 90)
		e.Number(FXY(0, 7, 4), 50000)
		e.EndSubset()
		b, err := e.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		d := decodeAll(t, b)[0]
		s := d.Subset(0)
		table := s.Tables()[0]
		if got := table.Float64s(0, nil); !slices.Equal(got, []float64{280.5, 280.5, 280.5, 280.5}) {
			t.Errorf("temperature %v", got)
		}
		if v := s.Number(FXY(0, 7, 4), 0); v != 50000 {
			t.Errorf("pressure behind the repetition %v", v)
		}
		again, err := Reencode(d, compressed)
		if err != nil || !bytes.Equal(again, b) {
			t.Errorf("written again: %v", err)
		}
	}
}

func TestDescriptor(t *testing.T) {
	for _, s := range []string{"012101", "0 12 101", "0-12-101"} {
		if d, err := ParseDescriptor(s); err != nil || d != FXY(0, 12, 101) || d.String() != "012101" {
			t.Errorf("%q: %s %v", s, d, err)
		}
	}
	for _, s := range []string{"", "12101", "412101", "064000", "000256", "abcdef", "0121010"} {
		if d, err := ParseDescriptor(s); err == nil {
			t.Errorf("%q is read as %s", s, d)
		}
	}
	if FXY(3, 9, 52) != 0xC934 {
		t.Errorf("3 09 052 is %X, want C934", uint16(FXY(3, 9, 52)))
	}
}

// TestHeader: what section 1 says comes back, in each edition.
func TestHeader(t *testing.T) {
	for edition := 2; edition <= 4; edition++ {
		h := Header{Edition: edition, Centre: 98, SubCentre: 3, Update: 2, Category: 2, SubCategory: 4, LocalSubCategory: 109, TableVersion: 13, LocalVersion: 1,
			Year: 2026, Month: 2, Day: 28, Hour: 23, Minute: 59, Second: 58, LocalUse: []byte{1, 2, 3}, Optional: []byte{9, 8, 7}, Subsets: 1, Observed: true, Descriptors: []Descriptor{FXY(0, 1, 1)}}
		switch edition {
		case 2:
			h.SubCentre, h.SubCategory, h.Second = 0, 255, 0
		case 3:
			h.SubCategory, h.Second = 255, 0
		}
		b, err := appendMessage(nil, &h, []byte{20})
		if err != nil {
			t.Fatal(err)
		}
		m, err := NewBytesReader(b).Next()
		if err != nil {
			t.Fatal(err)
		}
		// Editions 2 and 3 fill sections up to an even count, which shows in what has no length of its own.
		got := m.Header
		got.LocalUse, got.Optional = got.LocalUse[:3], got.Optional[:3]
		if a, b := got, h; a.Edition != b.Edition || a.Centre != b.Centre || a.SubCentre != b.SubCentre || a.Update != b.Update || a.Category != b.Category || a.SubCategory != b.SubCategory ||
			a.LocalSubCategory != b.LocalSubCategory || a.TableVersion != b.TableVersion || a.LocalVersion != b.LocalVersion || a.Year != b.Year || a.Month != b.Month || a.Day != b.Day ||
			a.Hour != b.Hour || a.Minute != b.Minute || a.Second != b.Second || !bytes.Equal(a.LocalUse, b.LocalUse) || !bytes.Equal(a.Optional, b.Optional) || a.Observed != b.Observed || !slices.Equal(a.Descriptors, b.Descriptors) {
			t.Errorf("edition %d: %+v, want %+v", edition, a, b)
		}
	}
	for year, want := range map[int]int{26: 2026, 100: 2000, 0: 2000, 79: 1979, 99: 1999, 49: 2049, 50: 1950} {
		if got := fullYear(year); got != want {
			t.Errorf("year of the century %d is %d, want %d", year, got, want)
		}
	}
}

// TestReadLocalTables: definitions as a file of lines; a wrong line is named.
func TestReadLocalTables(t *testing.T) {
	local, err := ReadLocalTables(strings.NewReader(`# an institute's own definitions
element,012230,number,1,0,12,K,Temperature of the battery
element,001230,text,0,0,80,,Name of the string

sequence,363200,001001 012230 001230
`))
	if err != nil {
		t.Fatal(err)
	}
	e := local.Elements[FXY(0, 12, 230)]
	if e.Name != "Temperature of the battery" || e.Unit != "K" || e.Scale != 1 || e.Width != 12 || e.Kind != Number || local.Elements[FXY(0, 1, 230)].Kind != Text {
		t.Errorf("%+v", local.Elements)
	}
	if !slices.Equal(local.Sequences[FXY(3, 63, 200)], []Descriptor{FXY(0, 1, 1), FXY(0, 12, 230), FXY(0, 1, 230)}) {
		t.Errorf("%v", local.Sequences)
	}
	for line, want := range map[string]string{
		"element,012230,number,1,0,12,K":          "line 1: an element needs 8",
		"element,312230,number,1,0,12,K,a":        "is no element",
		"element,012230,figure,1,0,12,K,a":        "kind figure",
		"element,012230,number,1,0,99,K,a":        "99 bits",
		"element,012230,text,1,0,12,K,a":          "12 bits",
		"element,012230,number,x,0,9,K,a":         "scale x",
		"sequence,363200,":                        "no descriptors",
		"sequence,063200,001001":                  "is no sequence",
		"sequence,363200,001001 xyz":              "xyz",
		"\n\nsequences,363200,001001":             "line 3",
		"element,012230,number,1,0,12,\"K,broken": "line 1",
	} {
		if local, err := ReadLocalTables(strings.NewReader(line)); local != nil || err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", line, err, want)
		}
	}
}
