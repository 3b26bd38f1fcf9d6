package authority

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

func TestEveryRowHasOneOwner(t *testing.T) {
	rows := Rows(t)
	if len(rows) < 300 {
		t.Errorf("%d rows: the folders are not all there", len(rows))
	}
	ids := map[string]bool{}
	for _, row := range rows {
		ids[row.ID] = true
		owners := 0
		for _, c := range claims {
			for _, part := range strings.Fields(c.rows) {
				if covers(part, row.ID) {
					owners++
				}
			}
		}
		if owners != 1 {
			t.Errorf("%s (%s) is claimed by %d packages, want 1: see claims.go", row.ID, row.Quantity, owners)
		}
	}
	for _, c := range claims {
		for _, part := range strings.Fields(c.rows) {
			found := false
			for id := range ids {
				found = found || covers(part, id)
			}
			if !found {
				t.Errorf("%s is claimed by %s, but there is no such row", part, c.owner)
			}
		}
		if (c.owner == nobody) != (c.reason != "") {
			t.Errorf("%s: a reason stands where nobody claims a row, and only there", c.rows)
		}
	}
	for id := range disputed {
		if !ids[id] {
			t.Errorf("%s is disputed, but there is no such row", id)
		}
	}
}

// A claim counts only where the package's tests run it.
func TestOwnersRunTheirRows(t *testing.T) {
	root := sharedtest.Root(t)
	seen := map[string]bool{}
	for _, c := range claims {
		if c.owner == nobody || seen[c.owner] {
			continue
		}
		seen[c.owner] = true
		files, err := filepath.Glob(filepath.Join(root, "internal", c.owner, "*_test.go"))
		if err != nil {
			t.Fatal(err)
		}
		runs := false
		for _, name := range files {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			runs = runs || strings.Contains(string(text), `authority.Run(t, "`+c.owner+`"`)
		}
		switch waits := slices.Contains(pending, c.owner); {
		case runs && waits:
			t.Errorf("%s runs its rows now: take it off the list of pending packages", c.owner)
		case !runs && !waits:
			t.Errorf("%s claims %s, but no test there calls authority.Run", c.owner, c.rows)
		case waits:
			t.Logf("not run yet: %s of package %s", c.rows, c.owner)
		}
	}
	for _, name := range pending {
		if !seen[name] {
			t.Errorf("%s is pending but claims no row", name)
		}
	}
}

// Every folder says where its numbers come from and under what terms.
func TestEverySourceIsDescribed(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedtest.Root(t), "authorities", "*", "values.csv"))
	if err != nil || len(files) == 0 {
		t.Fatal("no sources", err)
	}
	for _, name := range files {
		readme := filepath.Join(filepath.Dir(name), "README.md")
		text, err := os.ReadFile(readme)
		if err != nil {
			t.Error(err)
			continue
		}
		for _, want := range []string{"Edition and place:", "Terms:", "How entered:", "How sure:"} {
			if !strings.Contains(string(text), want) {
				t.Errorf("%s does not say %q", readme, want)
			}
		}
	}
	for _, row := range Rows(t) {
		if row.HowSure == "" || row.Origin == "" {
			t.Errorf("%s does not say where it comes from or how sure it is", row.ID)
		}
	}
}

func TestInputReadsNamedNumbers(t *testing.T) {
	row := Row{ID: "X-01", Inputs: "p=1013.25 hPa, T=-20 C, Tw=1.8e1 C, RH liquid=0.5"}
	for name, want := range map[string]float64{"p": 1013.25, "T": -20, "Tw": 18, "RH liquid": 0.5} {
		if got := row.Input(t, name); got != want {
			t.Errorf("%s = %g, want %g", name, got, want)
		}
	}
	if row.HasInput("w") || row.HasInput("e") {
		t.Error("a name that is only the end of another was found")
	}
}

func TestMarginOfBothKinds(t *testing.T) {
	if got := (Row{Tolerance: "0.01%"}).Margin(t, -200); got != 0.02 {
		t.Errorf("0.01 %% of 200 is %g", got)
	}
	if got := (Row{Tolerance: "6e-5"}).Margin(t, 1e6); got != 6e-5 {
		t.Errorf("6e-5 is %g", got)
	}
}

func TestReadRefusesBrokenFiles(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"empty":       "",
		"header only": strings.Join(header, ",") + "\n",
		"short row":   strings.Join(header, ",") + "\nSVP-01,x\n",
		"columns":     "id,what,inputs,expected,unit,tolerance,source,how_sure,recomputed_here,note\nA,b,c,d,e,f,g,h,i,j\n",
	} {
		file := filepath.Join(dir, "values.csv")
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if rows, err := read(file); err == nil {
			t.Errorf("%s: read %d rows without complaint", name, len(rows))
		}
	}
}
