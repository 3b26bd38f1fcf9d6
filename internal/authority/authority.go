// Package authority reads the published check values in the folder authorities,
// one subfolder a source, for the tests of the packages that compute them.
//
// A package's test runs the rows claimed for it and checks each answer:
//
//	authority.Run(t, "humidity", func(t *testing.T, row authority.Row) {
//		row.Check(t, answer(row.ID))
//	})
//
// Which package answers for which row is stated once, in claims.go.
package authority

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

// Row is one check value as its source, or whoever computed it, states it.
type Row struct {
	ID        string // for example SVP-01
	Source    string // folder below authorities
	Quantity  string // what is computed
	Inputs    string // from what, as text: names, values and units
	Expected  string // the value; several where the quantity is several
	Unit      string
	Tolerance string // absolute in the unit, or relative with a % sign; "-" for none
	Origin    string // edition, table, page
	HowSure   string // read in stored text, computed here, or from memory
	Computed  string // the value recomputed when the row was entered, if any
	Note      string
}

var header = []string{"id", "quantity", "inputs", "expected", "unit", "tolerance", "source", "how_sure", "recomputed_here", "note"}

// Rows returns every row of every source, sorted by identifier. It fails the test
// where a file cannot be read, a row has the wrong number of fields, or an
// identifier stands twice.
func Rows(t testing.TB) []Row {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(sharedtest.Root(t), "authorities", "*", "values.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		t.Fatal("no values.csv below authorities: the checks against published values cannot run")
	}
	var all []Row
	for _, name := range files {
		rows, err := read(name)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, rows...)
	}
	slices.SortFunc(all, func(a, b Row) int { return strings.Compare(a.ID, b.ID) })
	for i := 1; i < len(all); i++ {
		if all[i].ID == all[i-1].ID {
			t.Fatalf("%s stands in %s and in %s", all[i].ID, all[i-1].Source, all[i].Source)
		}
	}
	return all
}

func read(name string) ([]Row, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = len(header)
	records, err := r.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(records) < 2 || !slices.Equal(records[0], header) {
		return nil, fmt.Errorf("%s: line 1: want the columns %s and at least one row", name, strings.Join(header, ","))
	}
	source := filepath.Base(filepath.Dir(name))
	var rows []Row
	for _, c := range records[1:] {
		rows = append(rows, Row{ID: c[0], Source: source, Quantity: c[1], Inputs: c[2], Expected: c[3], Unit: c[4],
			Tolerance: c[5], Origin: c[6], HowSure: c[7], Computed: c[8], Note: c[9]})
	}
	return rows, nil
}

// Value returns Expected as one number; it fails the test where it is not one.
func (r Row) Value(t testing.TB) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r.Expected, 64)
	if err != nil {
		t.Fatalf("%s: expected %q is not one number", r.ID, r.Expected)
	}
	return v
}

// Margin returns the absolute tolerance around a value, from an absolute or a
// relative statement; it fails the test where the row states none.
func (r Row) Margin(t testing.TB, around float64) float64 {
	t.Helper()
	text, relative := strings.CutSuffix(r.Tolerance, "%")
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || v <= 0 {
		t.Fatalf("%s: tolerance %q is not a number", r.ID, r.Tolerance)
	}
	if relative {
		v *= 0.01 * math.Abs(around)
	}
	return v
}

// Check compares one number with the row, in the row's unit. A disputed row is
// compared with the value that stands against it instead.
func (r Row) Check(t testing.TB, got float64) {
	t.Helper()
	if d, ok := disputed[r.ID]; ok {
		r.checkDisputed(t, got, d.Instead, d.Reason)
		return
	}
	want := r.Value(t)
	r.Near(t, got, want, r.Margin(t, want))
}

// CheckAll compares several numbers with those in Expected, in the order they
// stand there ("u=7.07 v=7.07", "5 m/s from 36.87 deg").
func (r Row) CheckAll(t testing.TB, got ...float64) {
	t.Helper()
	var want []float64
	for _, word := range strings.FieldsFunc(r.Expected, func(c rune) bool { return strings.ContainsRune(" =;,/", c) }) {
		if v, err := strconv.ParseFloat(word, 64); err == nil {
			want = append(want, v)
		}
	}
	if len(want) != len(got) {
		t.Fatalf("%s: %q holds %d numbers, compared with %d", r.ID, r.Expected, len(want), len(got))
	}
	for i := range want {
		r.Near(t, got[i], want[i], r.Margin(t, want[i]))
	}
}

// Near compares one of several numbers of a row.
func (r Row) Near(t testing.TB, got, want, margin float64) {
	t.Helper()
	if !(math.Abs(got-want) <= margin) {
		t.Errorf("%s %s (%s): got %.12g, want %.12g ± %.3g %s [%s; %s]",
			r.ID, r.Quantity, r.Inputs, got, want, margin, r.Unit, r.Origin, r.HowSure)
	}
}

// Input returns the number that follows name= in Inputs, whatever unit follows
// it; it fails the test where there is none.
func (r Row) Input(t testing.TB, name string) float64 {
	t.Helper()
	v, ok := r.input(name)
	if !ok {
		t.Fatalf("%s: no number %s= in %q", r.ID, name, r.Inputs)
	}
	return v
}

// HasInput reports whether Inputs holds name= and a number.
func (r Row) HasInput(name string) bool {
	_, ok := r.input(name)
	return ok
}

func (r Row) input(name string) (float64, bool) {
	for rest := r.Inputs; ; {
		at := strings.Index(rest, name+"=")
		if at < 0 {
			return 0, false
		}
		if at > 0 && !strings.ContainsRune(" ,;", rune(rest[at-1])) {
			rest = rest[at+1:]
			continue
		}
		number := rest[at+len(name)+1:]
		end := 0
		for end < len(number) && strings.ContainsRune("+-.0123456789eE", rune(number[end])) {
			end++
		}
		v, err := strconv.ParseFloat(number[:end], 64)
		return v, err == nil
	}
}

// Run calls check, as a subtest named after the row, for every row claimed by a
// package. It fails where the package claims none.
func Run(t *testing.T, owner string, check func(t *testing.T, row Row)) {
	t.Helper()
	ran := 0
	for _, row := range Rows(t) {
		if claim, ok := claimOf(row.ID); ok && claim.owner == owner {
			ran++
			t.Run(row.ID, func(t *testing.T) { check(t, row) })
		}
	}
	if ran == 0 {
		t.Errorf("no check value is claimed by package %s", owner)
	}
}
