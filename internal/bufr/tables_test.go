package bufr

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

// TestTablesAgainstDefinitions compares every element and sequence of every master table version with the tables as
// installed with ecCodes, read here by other code than the generator's.
func TestTablesAgainstDefinitions(t *testing.T) {
	dir := definitions(t)
	files, err := filepath.Glob(filepath.Join(dir, "*", "element.table"))
	if err != nil || len(files) < 25 {
		t.Fatalf("%d versions", len(files))
	}
	elements, sequences := 0, 0
	for _, name := range files {
		version, err := strconv.Atoi(filepath.Base(filepath.Dir(name)))
		if err != nil {
			t.Fatal(err)
		}
		tables, err := NewTables(0, version, 0, 0, 0)
		if err != nil || tables.Version() != version {
			t.Fatalf("version %d gives %d, %v", version, tables.Version(), err)
		}
		present := map[Descriptor]bool{}
		for _, l := range readLines(t, name) {
			f := strings.Split(l, "|")
			if strings.HasPrefix(l, "#") || len(f) < 8 {
				continue
			}
			d, err := ParseDescriptor(f[0])
			if err != nil {
				t.Fatal(err)
			}
			present[d] = true
			e, ok := tables.Element(d)
			if !ok {
				t.Errorf("version %d: %s is missing", version, d)
				continue
			}
			if strconv.Itoa(e.Scale) != f[5] || strconv.FormatInt(e.Reference, 10) != f[6] || strconv.Itoa(e.Width) != f[7] ||
				!strings.EqualFold(e.Unit, f[4]) {
				t.Errorf("version %d %s: %d %d %d %q, want %v", version, d, e.Scale, e.Reference, e.Width, e.Unit, f[4:8])
			}
			if version == NewestVersion() && !strings.EqualFold(e.Name, f[3]) {
				t.Errorf("%s: %q, want %q", d, e.Name, f[3])
			}
			elements++
		}
		for d := range Descriptor(1 << 14) {
			if _, ok := tables.Element(d); ok != present[d] {
				t.Errorf("version %d %s: present %v, want %v", version, d, ok, present[d])
			}
		}
		text := strings.Join(readLines(t, filepath.Join(filepath.Dir(name), "sequence.def")), "")
		for _, m := range regexp.MustCompile(`"(\d{6})"\s*=\s*\[([^\]]*)\]`).FindAllStringSubmatch(text, -1) {
			d, err := ParseDescriptor(m[1])
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			members, _ := tables.Sequence(d)
			for _, x := range members {
				got = append(got, x.String())
			}
			want := strings.ReplaceAll(m[2], " ", "")
			if strings.Join(got, ",") != strings.TrimSuffix(want, ",") {
				t.Errorf("version %d %s: %v, want %s", version, d, got, want)
			}
			sequences++
		}
	}
	t.Logf("%d elements and %d sequences in %d versions", elements, sequences, len(files))
}

// TestCodeTables compares the meanings with the tables taken from the WMO repository. Wording differs between the
// editions (reserved ranges, capitals, short forms), so words are compared where the figure is in both.
func TestCodeTables(t *testing.T) {
	f, err := os.Open(sharedtest.Dir(t, "standards/bufr_code_flag_tables.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	compared, different := 0, 0
	for _, row := range rows[1:] {
		d, err := ParseDescriptor(row[0])
		if err != nil {
			t.Fatal(err)
		}
		figure, err := strconv.ParseUint(row[4], 10, 64)
		if err != nil || strings.HasPrefix(row[5], "Reserved") || d == FXY(0, 2, 81) || d == FXY(0, 2, 97) {
			continue
		}
		got, _ := codeEntry(d, figure)
		if got == "" {
			t.Logf("%s %d %q is newer than the embedded tables", d, figure, row[5])
			different++
			continue
		}
		compared++
		if got := plain(got); got != plain(row[5]) && !strings.HasPrefix(plain(row[5]), got[:min(len(got), 4)]) {
			different++
			t.Logf("%s %d: %q, the repository has %q", d, figure, got, row[5])
		}
	}
	if compared < 300 || different > 40 {
		t.Errorf("%d compared, %d different: more than changes of wording explain", compared, different)
	}
	t.Logf("%d compared, %d worded differently or newer", compared, different)
}

func plain(s string) string {
	return regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(strings.ToLower(s), " ")
}

// TestNamesWithheld: tables that name makers, products, satellites or agencies give a kind for every figure, and
// nothing of the names as installed is in the embedded file.
func TestNamesWithheld(t *testing.T) {
	for _, c := range []struct {
		d       Descriptor
		figure  uint64
		contain string
	}{
		{FXY(0, 2, 11), 80, "name withheld"},
		{FXY(0, 2, 11), 90, "not specified"},
		{FXY(0, 2, 11), 4, "no radiosonde"},
		{FXY(0, 2, 66), 3, "name withheld"},
		{FXY(0, 2, 80), 1, "name withheld"},
		{FXY(0, 2, 81), 7, "name withheld"},
		{FXY(0, 2, 97), 2, "name withheld"},
		{FXY(0, 2, 97), 22, "chilled mirror"},
		{FXY(0, 1, 7), 3, "name withheld"},
	} {
		if got := Meaning(c.d, Code, 8, c.figure); !strings.Contains(got, c.contain) {
			t.Errorf("%s %d: %q, want something with %q", c.d, c.figure, got, c.contain)
		}
	}
	dir := definitions(t)
	// Words of six letters and more that only the withheld tables use must not be in the file.
	words := func(table string, version string) map[string]bool {
		out := map[string]bool{}
		b, err := os.ReadFile(filepath.Join(dir, version, "codetables", table+".table"))
		if err != nil {
			return out
		}
		for _, w := range regexp.MustCompile(`[a-z]{6,}`).FindAllString(strings.ToLower(string(b)), -1) {
			out[w] = true
		}
		return out
	}
	all := strings.ToLower(wmo)
	found := map[string]bool{}
	checked := 0
	for v := 13; v <= NewestVersion(); v++ {
		version := strconv.Itoa(v)
		for _, table := range []string{"2011", "2066", "2080", "2081"} {
			for w := range words(table, version) {
				checked++
				if strings.Contains(all, w) {
					found[w] = true
				}
			}
		}
	}
	for w := range found {
		if !slices.Contains(strings.Fields(trade), w) {
			t.Errorf("%q, a word of a withheld table, is in the embedded file", w)
		}
	}
	if checked == 0 {
		t.Error("no word was checked")
	}
}

// trade are the words of the withheld tables that are terms of the trade and stand in other tables in their own right.
const trade = `acoustic active capacitance capacitive carbon derived descending element external heated height humidity
	instrument locate longer meteorological missing number office orbital passive polymer pressure profiler radiosonde
	reflector relative reserved sensor service silicon sounder specified system target temperature thermistor transpond
	transponder unknown lement erived`
