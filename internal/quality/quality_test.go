package quality

import "testing"

// The roll-up rule as a table: every pair of the five flags and of nothing said.
func TestWorst(t *testing.T) {
	order := []Flag{0, NotEvaluated, Good, Questionable, Bad, Missing} // rising
	for i, a := range order {
		for j, b := range order {
			want := order[max(i, j)]
			if got := Worst(a, b); got != want {
				t.Errorf("Worst(%v, %v) = %v, want %v", a, b, got, want)
			}
		}
	}
}

// IOC 54:V3 (2013), table of primary level flags: 1 good, 2 not evaluated,
// 3 questionable/suspect, 4 bad, 9 missing.
func TestPrimaryValues(t *testing.T) {
	want := map[string]Flag{"good": 1, "not_evaluated": 2, "questionable": 3, "bad": 4, "missing": 9}
	for word, value := range want {
		got, err := ParseFlag(word)
		if err != nil || got != value || got.String() != word {
			t.Errorf("ParseFlag(%q) = %d %v, String %q; want %d", word, got, err, got, value)
		}
	}
	if _, err := ParseFlag("fine"); err == nil {
		t.Error("ParseFlag took a word that is no flag")
	}
}

func TestCheckNamesAreUniqueAndComplete(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range Checks() {
		n := c.String()
		if n == "" || seen[n] {
			t.Errorf("check %d has no name of its own: %q", c, n)
		}
		seen[n] = true
		if back, err := ParseCheck(n); err != nil || back != c {
			t.Errorf("ParseCheck(%q) = %v, %v", n, back, err)
		}
	}
	if len(seen) > 64 {
		t.Errorf("%d checks do not fit into 64 bits", len(seen))
	}
}

func TestBits(t *testing.T) {
	b := Spike.Bit() | Telemetry.Bit() | Syntax.Bit()
	got := b.Checks()
	want := []Check{Syntax, Spike, Telemetry}
	if len(got) != len(want) {
		t.Fatalf("Checks() = %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] || !b.Has(want[i]) {
			t.Errorf("Checks()[%d] = %v, want %v", i, got[i], want[i])
		}
	}
	if b.Has(Gap) {
		t.Error("Has(Gap) on a set without it")
	}
}
