package bufr

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

func readLines(t *testing.T, name string) []string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []string
	s := bufio.NewScanner(f)
	s.Buffer(nil, 1<<22)
	for s.Scan() {
		out = append(out, s.Text())
	}
	if err := s.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// close to the decimal that a decoder prints; both come from the same integer.
func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b))
}

// TestAgainstBufrconv: the descriptor-by-descriptor dump that bufrconv, a decoder in another language, made of the 12 subsets.
func TestAgainstBufrconv(t *testing.T) {
	lines := readLines(t, sharedtest.Dir(t, "data/bufr_decoded/bufrconv_iusn01babj.d.txt"))
	d := decodeFile(t, sharedtest.Dir(t, "data/bufr/bufrconv_A_IUSN01BABJ290000_C_RJTD_20191029025504_87.bufr"))[0]
	var items []Item
	for i := range d.Subsets() {
		for it := range d.Subset(i).Items() {
			items = append(items, *it)
		}
	}
	line := regexp.MustCompile(`^(0\d{5})\s+(\S+|".*") #`)
	k := 0
	for n, l := range lines {
		m := line.FindStringSubmatch(l)
		if m == nil {
			continue
		}
		if k == len(items) {
			t.Fatalf("line %d: more values than our %d", n+1, len(items))
		}
		it := items[k]
		k++
		if it.Field.Descriptor.String() != m[1] {
			t.Fatalf("line %d: %s, ours %s", n+1, m[1], it.Path())
		}
		switch {
		case it.Field.Kind == Text:
			want, err := strconv.Unquote(m[2])
			if err != nil || string(it.AppendText(nil)) != want {
				t.Errorf("line %d: %s, ours %q", n+1, m[2], it.AppendText(nil))
			}
		case m[2] == "nil":
			if !it.Missing {
				t.Errorf("line %d %s: nil, ours %v", n+1, it.Path(), it.Value())
			}
		case strings.HasPrefix(m[2], "0x"):
			want, err := strconv.ParseUint(m[2][2:], 16, 64)
			if err != nil || it.Raw != want {
				t.Errorf("line %d %s: %s, ours %d", n+1, it.Path(), m[2], it.Raw)
			}
		default:
			want, err := strconv.ParseFloat(m[2], 64)
			if err != nil || !same(it.Value(), want) {
				t.Errorf("line %d %s: %s, ours %v", n+1, it.Path(), m[2], it.Value())
			}
		}
	}
	if k != len(items) || k == 0 {
		t.Errorf("%d values in the dump, ours %d", k, len(items))
	}
}

// TestAgainstPybufrkit: the values another decoder gives for the message with associated fields.
func TestAgainstPybufrkit(t *testing.T) {
	lines := readLines(t, sharedtest.Dir(t, "data/bufr_decoded/pybufrkit_uegabe.values.txt"))
	d := decodeFile(t, sharedtest.Dir(t, "data/bufr/pybufrkit_uegabe.bufr"))[0]
	k := 0
	for it := range d.Subset(0).Items() {
		if k >= len(lines) {
			t.Fatalf("the dump has %d values", len(lines))
		}
		_, value, _ := strings.Cut(lines[k], " ")
		value = strings.TrimSuffix(value, "L") // its language's mark of a long integer
		k++
		switch {
		case value == "None":
			// It shows an associated field with all bits on as None; for us, as for ecCodes, it is a figure.
			if !it.Missing && !(it.Field.Kind == Associated && it.Raw == 15) {
				t.Errorf("line %d %s: None, ours %v", k, it.Path(), it.Value())
			}
		case it.Field.Kind == Text:
			if want := strings.Repeat(`\xff`, it.Field.Width/8); !it.Missing || value != "'"+want+"'" {
				t.Errorf("line %d %s: %s, ours %q", k, it.Path(), value, it.AppendText(nil))
			}
		default:
			want, err := strconv.ParseFloat(value, 64)
			if err != nil || !same(it.Value(), want) {
				t.Errorf("line %d %s: %s, ours %v", k, it.Path(), value, it.Value())
			}
		}
	}
	if k != len(lines) || k == 0 {
		t.Errorf("%d values, the dump has %d", k, len(lines))
	}
}

// TestColumnsAgainstTables: the level tables that ecCodes gave as CSV equal our columns.
func TestColumnsAgainstTables(t *testing.T) {
	names, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/bufr_decoded"), "eccodes_*.csv"))
	if err != nil || len(names) == 0 {
		t.Fatal("no CSV")
	}
	columns := map[string][]Descriptor{
		"t_s": {FXY(0, 4, 86)}, "ext_sig": {FXY(0, 8, 42)}, "sig": {FXY(0, 8, 1)}, "p_Pa": {FXY(0, 7, 4)}, "z_gpm": {FXY(0, 10, 9)},
		"dlat": {FXY(0, 5, 15)}, "dlon": {FXY(0, 6, 15)}, "T_K": {FXY(0, 12, 101), FXY(0, 12, 1)}, "Td_K": {FXY(0, 12, 103), FXY(0, 12, 3)},
		"wdir": {FXY(0, 11, 1)}, "wspd": {FXY(0, 11, 2)},
	}
	compared := 0
	for _, name := range names {
		base := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(name), "eccodes_"), ".csv")
		all := decodeFile(t, sharedtest.Dir(t, "data/bufr/"+base+".bufr"))
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		counted := map[[2]int]int{}
		var values []float64
		for n, row := range rows[1:] {
			at := func(column string) string {
				for i, h := range rows[0] {
					if h == column {
						return row[i]
					}
				}
				t.Fatalf("no column %s", column)
				return ""
			}
			number := func(column string) int {
				v, err := strconv.Atoi(at(column))
				if err != nil {
					t.Fatal(err)
				}
				return v
			}
			m, s, lev := number("msg")-1, number("subset")-1, number("lev")-1
			table, ok := all[m].Subset(s).TableWith(FXY(0, 7, 4))
			if !ok {
				t.Fatalf("%s message %d subset %d has no table with pressure", base, m+1, s+1)
			}
			counted[[2]int{m, s}]++
			if lev >= table.Rows() {
				t.Errorf("%s row %d: level %d, ours %d rows", base, n+2, lev+1, table.Rows())
				continue
			}
			for column, descriptors := range columns {
				c := -1
				for _, d := range descriptors {
					if c < 0 {
						c = table.Column(d, 0)
					}
				}
				want := math.NaN()
				if text := at(column); text != "" {
					if want, err = strconv.ParseFloat(text, 64); err != nil {
						t.Fatal(err)
					}
				}
				got := math.NaN()
				if c >= 0 {
					values = table.Float64s(c, values)
					got = values[lev]
				}
				if !same(got, want) {
					t.Errorf("%s row %d %s: %v, ecCodes %v", base, n+2, column, got, want)
				}
				compared++
			}
		}
		for key, n := range counted {
			table, _ := all[key[0]].Subset(key[1]).TableWith(FXY(0, 7, 4))
			if table.Rows() != n {
				t.Errorf("%s message %d subset %d: %d rows, ecCodes %d", base, key[0]+1, key[1]+1, table.Rows(), n)
			}
		}
	}
	if compared == 0 {
		t.Error("nothing was compared")
	}
	t.Logf("%d values compared", compared)
}

// definitions returns the folder of ecCodes' WMO tables.
func definitions(t *testing.T) string {
	t.Helper()
	tool := sharedtest.Tool(t, "codes_info", "libeccodes-tools")
	if out, err := exec.Command(tool, "-v").Output(); err != nil || strings.TrimSpace(string(out)) != "2.28.0" {
		t.Skipf("skipped: the tables are packed from libeccodes-data 2.28.0, installed is %q", out)
	}
	out, err := exec.Command(tool, "-d").Output()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(strings.TrimSpace(string(out)), "bufr/tables/0/wmo")
	if _, err := os.Stat(dir); err != nil {
		t.Skip("skipped: the definitions of Debian's libeccodes-data are not installed")
	}
	return dir
}

// TestVectors: the vectors decode to their dumps, key by key and value by value, in the order of the message.
func TestVectors(t *testing.T) {
	keys := elementKeys(t)
	for _, name := range []string{"t309052", "t309056", "t309057"} {
		lines := readLines(t, sharedtest.Dir(t, "standards/vectors/"+name+".dump.txt"))
		for i, l := range lines {
			if strings.HasPrefix(l, "unexpandedDescriptors") {
				lines = lines[i+1:]
				break
			}
		}
		d := decodeFile(t, sharedtest.Dir(t, "standards/vectors/"+name+".bufr"))[0]
		k := 0
		for it := range d.Subset(0).Items() {
			if it.Field.Descriptor.X() == 31 {
				continue // the dump lists factors at its head
			}
			if k >= len(lines) {
				t.Fatalf("%s: the dump has %d values", name, len(lines))
			}
			key, value, _ := strings.Cut(lines[k], "=")
			k++
			if i := strings.LastIndexByte(key, '#'); i >= 0 {
				key = key[i+1:]
			}
			if want := keys[it.Field.Descriptor.String()]; key != want {
				t.Fatalf("%s %s: the dump has %s, expected %s", name, it.Path(), key, want)
			}
			switch {
			case value == "MISSING":
				if !it.Missing {
					t.Errorf("%s %s: MISSING, ours %v", name, it.Path(), it.Value())
				}
			case it.Field.Kind == Text:
				if want := strings.TrimRight(strings.Trim(value, `"`), " "); it.Text() != want {
					t.Errorf("%s %s: %s, ours %q", name, it.Path(), value, it.Text())
				}
			default:
				// The dump prints six figures.
				if got := strconv.FormatFloat(it.Value(), 'g', 6, 64); got != value && it.Value() != atof(value) {
					t.Errorf("%s %s: %s, ours %s", name, it.Path(), value, got)
				}
			}
		}
		for k < len(lines) && lines[k] == "" {
			k++
		}
		if k != len(lines) || k == 0 {
			t.Errorf("%s: %d values, the dump has %d", name, k, len(lines))
		}
	}
}

func atof(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// elementKeys returns what ecCodes calls each element, by its six figures.
func elementKeys(t *testing.T) map[string]string {
	keys := map[string]string{}
	for _, l := range readLines(t, filepath.Join(definitions(t), "36", "element.table")) {
		if f := strings.Split(l, "|"); len(f) > 7 && l[0] != '#' {
			keys[f[0]] = f[1]
		}
	}
	return keys
}

// TestAgainstKeyList: the list of keys and arrays that came with three messages of older template and their quality
// information (bufr_decoded/eccodespy_temp.items.txt): every array of values, of the confidence in each of them, and of
// substituted values.
func TestAgainstKeyList(t *testing.T) {
	lists := map[string][]float64{} // "message key" to values, NaN missing
	message, key := 0, ""
	for _, l := range readLines(t, sharedtest.Dir(t, "data/bufr_decoded/eccodespy_temp.items.txt")) {
		if l[0] != ' ' {
			name, rest, _ := strings.Cut(l, " ")
			if name == "messageNumber" {
				message++
			}
			key, l = fmt.Sprintf("%d %s", message, name), rest
		}
		for _, w := range strings.Fields(strings.Trim(strings.TrimSpace(l), "[]")) {
			lists[key] = append(lists[key], atof(strings.TrimSuffix(w, ".")))
		}
	}
	keys := elementKeys(t)
	all := decodeFile(t, sharedtest.Dir(t, "data/bufr/eccodespy_temp.bufr"))
	if len(all) != message {
		t.Fatalf("%d messages, the list has %d", len(all), message)
	}
	arrays, values := 0, 0
	for m, d := range all {
		ours := map[string][]float64{}
		var order []string      // key of each item
		place := map[int]int{}  // item to its place in the array
		rated := map[int]bool{} // item has a confidence
		s := d.Subset(0)
		for it := range s.Items() {
			k := keys[it.Field.Descriptor.String()]
			order = append(order, k)
			about := ""
			switch {
			case it.Target >= 0 && it.Field.Operator == FXY(2, 23, 255):
				about = "->substitutedValue"
			case it.Target >= 0 && it.Field.Descriptor == FXY(0, 33, 7):
				about = "->percentConfidence"
				rated[it.Target] = true
			}
			if about != "" {
				k = order[it.Target] + about
				for n := len(ours[k]); n <= place[it.Target]; n++ {
					ours[k] = append(ours[k], math.NaN())
				}
				ours[k][place[it.Target]] = it.Value()
				continue
			}
			place[it.Index] = len(ours[k])
			ours[k] = append(ours[k], it.Value())
		}
		if len(rated) < 100 {
			t.Errorf("message %d: %d values have a confidence", m+1, len(rated))
		}
		for k, got := range ours {
			want, ok := lists[fmt.Sprintf("%d %s", m+1, k)]
			if !ok {
				continue // operators, bits of the bit-map
			}
			arrays++
			for i := range max(len(got), len(want)) {
				g, w := math.NaN(), math.NaN()
				if i < len(got) {
					g = got[i]
				}
				if i < len(want) {
					w = want[i]
				}
				if !same(g, w) {
					t.Errorf("message %d %s, value %d: %v, in the list %v", m+1, k, i+1, g, w)
				}
				values++
			}
		}
	}
	if arrays < 100 || values < 1500 {
		t.Errorf("only %d arrays of %d values compared", arrays, values)
	}
	t.Logf("%d arrays, %d values", arrays, values)
}

// TestExpansions: the templates expand to the tables printed from the WMO repository (BUFR4), element for element:
// path, width, scale, reference, unit kind and which elements are replicated.
func TestExpansions(t *testing.T) {
	for _, name := range []string{"309052", "309053", "309055", "309056", "309057"} {
		f, err := os.Open(sharedtest.Dir(t, "standards/bufr_expansion_"+name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		column := map[string]int{}
		for i, h := range rows[0] {
			column[h] = i
		}
		root, err := ParseDescriptor(name)
		if err != nil {
			t.Fatal(err)
		}
		tables, err := NewTables(0, 39, 0, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		p, err := Compile(tables, []Descriptor{root})
		if err != nil {
			t.Fatal(err)
		}
		fields := p.Fields()
		k := 0
		for n, row := range rows[1:] {
			at := func(h string) string { return row[column[h]] }
			d, err := ParseDescriptor(at("fxy"))
			if err != nil {
				t.Fatal(err)
			}
			if d.F() != 0 {
				continue
			}
			if k == len(fields) {
				t.Fatalf("%s row %d: we have %d fields", name, n+2, k)
			}
			f := fields[k]
			if got, want := p.Path(k), at("path")+"/"+at("fxy"); got != want {
				t.Errorf("%s row %d: path %s, ours %s", name, n+2, want, got)
			}
			for _, c := range []struct {
				what string
				got  int64
			}{{"effective_scale", int64(f.Scale)}, {"effective_reference", f.Reference}, {"effective_width_bits", int64(f.Width)}} {
				if want, err := strconv.ParseInt(at(c.what), 10, 64); err != nil || c.got != want {
					t.Errorf("%s row %d %s: %s %s, ours %d", name, n+2, d, c.what, at(c.what), c.got)
				}
			}
			kind := map[string]Kind{"Code table": Code, "Flag table": Flag, "CCITT IA5": Text}[at("unit")]
			if f.Kind != kind {
				t.Errorf("%s row %d %s: unit %s, our kind %s", name, n+2, d, at("unit"), f.Kind)
			}
			k++
		}
		if k != len(fields) || k == 0 {
			t.Errorf("%s: %d elements in the table, ours %d", name, k, len(fields))
		}
	}
}
