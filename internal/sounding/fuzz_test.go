package sounding

import (
	"encoding/json"
	"math"
	"testing"
)

// A sheet that is read without an error is valid and says so again.
func FuzzReadSheet(f *testing.F) {
	for _, name := range ShippedSheets() {
		_, text, err := ShippedSheet(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte("name = 'x'\n[humidity]\nsensors = 9\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := ReadSheet("fuzz", text)
		if (s == nil) == (err == nil) {
			t.Fatalf("sheet %v with error %v", s, err)
		}
		if err == nil && s.Validate() != nil {
			t.Fatal("a sheet that was read is not valid")
		}
	})
}

// A number that was read is written again to the same value.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"null", "0", "-0", "1e308", "1e999", "0.1", `"1"`, "{}"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var n, again Number
		if json.Unmarshal([]byte(s), &n) != nil {
			return
		}
		b, err := json.Marshal(n)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &again); err != nil || math.Float64bits(float64(n)) != math.Float64bits(float64(again)) && (n.Set() || again.Set()) {
			t.Fatalf("%q is %v, written %s, read %v, %v", s, n, b, again, err)
		}
	})
}
