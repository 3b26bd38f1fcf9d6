package truth

import (
	"bytes"
	"math"
	"testing"

	"leadline/internal/sounding"
)

func TestCatalogueHoldsEnough(t *testing.T) {
	if n := len(Faults()); n < 25 {
		t.Errorf("%d faults, want at least 25", n)
	}
	seen := map[string]bool{}
	for _, f := range Faults() {
		if seen[f.Name] || f.Title == "" || f.Unit == "" || f.Size == 0 {
			t.Errorf("fault %q stands twice or is not described", f.Name)
		}
		seen[f.Name] = true
	}
}

// Every fault changes what it says, and nothing else: rows and variables it does not
// name are as in the flight without it.
func TestFaultsChangeWhatTheySayAndNothingElse(t *testing.T) {
	s := preset(t, MidLatitudeSummer, true)
	s.Site.Longitude = -71.2 // signs can be wrong only where there is one
	clean := fly1(t, s, 5)
	for _, info := range Faults() {
		t.Run(info.Name, func(t *testing.T) {
			s := s
			s.Faults = []Fault{{Name: info.Name}}
			f := fly1(t, s, 5)
			if len(f.Injected) != 1 || f.Injected[0].Sentence == "" {
				t.Fatalf("injected: %+v", f.Injected)
			}
			in := &f.Injected[0]
			marked := make([]bool, f.Receptions[0].Columns.Len())
			for _, span := range in.Rows {
				for i := span.From; i < span.To; i++ {
					marked[i] = true
				}
			}
			sameRecord := string(clean.RecordText()) == string(f.RecordText())
			sameText := string(clean.Text(0)) == string(f.Text(0))
			switch {
			case info.Kind == "record":
				if sameRecord || !sameText || in.Field == "" {
					t.Errorf("record changed: %v, file changed: %v, field %q", !sameRecord, !sameText, in.Field)
				}
				return
			case info.Name == "second-receiver":
				if len(f.Receptions) != 2 || !sameText || !sameRecord {
					t.Errorf("%d receptions, first file changed: %v", len(f.Receptions), !sameText)
				}
				return
			case info.Kind == "balloon":
				if sameText {
					t.Error("the flight is as before")
				}
				return
			}
			if !sameRecord {
				t.Error("the launch record changed")
			}
			if sameText || len(in.Rows) == 0 && len(in.Lost) == 0 {
				t.Fatalf("nothing changed: rows %v, lost %v", in.Rows, in.Lost)
			}
			named := map[sounding.Variable]bool{}
			for _, v := range in.Variables {
				named[v] = true
			}
			at := map[int32]int{}
			for i, k := range clean.Receptions[0].Sample {
				at[k] = i
			}
			r := &f.Receptions[0]
			for i, k := range r.Sample {
				if k < 0 {
					if !marked[i] {
						t.Fatalf("row %d of another radiosonde is not marked", i)
					}
					continue
				}
				j, had := at[k]
				if !had {
					t.Fatalf("row %d holds frame %d, which the clean flight lost", i, k)
				}
				different := false
				for n := range r.Columns.Series {
					a, b := r.Columns.Series[n], clean.Receptions[0].Columns.Series[n]
					if a.Variable != b.Variable {
						t.Fatal("columns differ")
					}
					if x, y := a.Values[i], b.Values[j]; x != y && !(math.IsNaN(x) && math.IsNaN(y)) {
						different = true
						if !marked[i] {
							t.Fatalf("row %d: %v changed from %g to %g unmarked", i, a.Variable, y, x)
						}
						if len(named) > 0 && !named[a.Variable] {
							t.Fatalf("row %d: %v changed but is not named", i, a.Variable)
						}
					}
				}
				if info.Kind == "values" && marked[i] && !different && info.Name != "temperature-stuck" && info.Name != "pressure-stuck" && info.Name != "wind-repeated" {
					t.Fatalf("row %d is marked but as before", i)
				}
			}
			lost := map[int32]bool{}
			for _, span := range in.Lost {
				for k := span.From; k < span.To; k++ {
					lost[int32(k)] = true
				}
			}
			have := map[int32]bool{}
			for _, k := range r.Sample {
				have[k] = true
			}
			for _, k := range clean.Receptions[0].Sample {
				if have[k] == lost[k] {
					t.Fatalf("frame %d: in the file %v, declared lost %v", k, have[k], lost[k])
				}
			}
		})
	}
}

// Every fault can happen to every radiosonde it suits, in both layouts, and leaves
// columns that keep their rules and lines that are in the file.
func TestEveryFaultSuitsEverySheet(t *testing.T) {
	for _, name := range sounding.ShippedSheets() {
		sheet, _, err := sounding.ShippedSheet(name)
		if err != nil {
			t.Fatal(err)
		}
		for i, info := range Faults() {
			s := preset(t, Desert, false)
			s.Sheet, s.Interval, s.Before = sheet, 2, 300
			s.Layout = Layout(i % 2)
			s.Faults = []Fault{{Name: info.Name}}
			if info.Suits(sheet) != nil {
				if f, err := Simulate(s, 3); err == nil || f != nil {
					t.Errorf("%s flew with %s, which it does not suit", info.Name, name)
				}
				continue
			}
			f := fly1(t, s, 3)
			c := &f.Receptions[0].Columns
			if err := c.Validate(); err != nil {
				t.Errorf("%s with %s: %v", info.Name, name, err)
			}
			lines := int32(bytes.Count(f.Text(0), []byte("\n")))
			for k, line := range c.Line {
				if line > lines || k > 0 && line <= c.Line[k-1] {
					t.Fatalf("%s with %s: row %d stands on line %d of %d", info.Name, name, k, line, lines)
				}
			}
			for _, span := range f.Injected[0].Rows {
				if span.From < 0 || span.To > c.Len() || span.Len() == 0 {
					t.Errorf("%s with %s: rows %v of %d", info.Name, name, span, c.Len())
				}
			}
			for _, v := range f.Injected[0].Variables {
				if f.Amount(v) == nil {
					t.Errorf("%s with %s: no amounts for %v", info.Name, name, v)
				}
			}
		}
	}
}
