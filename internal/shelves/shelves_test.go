// Package shelves holds one test: imports only point down.
package shelves

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// shelves lists every package, lowest first. A package may import only from
// lower shelves; packages on one shelf do not know each other. A folder listing
// is alphabetical, so this list is where the order of the project is stated.
var shelves = [][]string{
	{"sharedtest"},
	{"authority", "constants", "quality", "bufr", "temp", "igra", "netcdf", "units", "web"},
	{"earth", "humidity", "sun", "smooth"},
	{"hydrostatic", "gas"},
	{"parcel"},
	{"plot"},
	{"sounding"},
	{"ingest", "events", "check", "correct", "wind", "levels", "profile", "prelaunch", "truth", "comparison"},
	{"flighttest", "indices"},
	{"export", "message"},
	{"workbench"},
	{"report", "examine", "follow", "suggest"},
	{"store", "api"},
	{"api/apitest"},
	{"cmd/leadline", "web/test/fixture"},
}

func TestImportsPointDown(t *testing.T) {
	shelf := map[string]int{}
	for i, names := range shelves {
		for _, n := range names {
			shelf[n] = i
		}
	}
	short := func(path string) (string, bool) {
		p, ours := strings.CutPrefix(path, "leadline/")
		return strings.TrimPrefix(p, "internal/"), ours
	}
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "leadline/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	packages := 0
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		f := strings.Fields(line)
		from, _ := short(f[0])
		if from == "shelves" {
			continue
		}
		packages++
		at, known := shelf[from]
		if !known {
			t.Errorf("%s stands on no shelf: add it to the list", from)
			continue
		}
		for _, imp := range f[1:] {
			if to, ours := short(imp); ours && shelf[to] >= at {
				t.Errorf("%s imports %s, which is not on a lower shelf", from, to)
			}
		}
	}
	for name := range shelf {
		if !strings.Contains(string(out), "leadline/internal/"+name+" ") && !strings.Contains(string(out), "leadline/"+name+" ") {
			t.Errorf("%s is on a shelf and is no package any more: take it off the list", name)
		}
	}
	if packages == 0 {
		t.Error("go list found no package: the test proves nothing")
	}
}

// The map that newcomers read names every package.
func TestArchitectureNamesEveryPackage(t *testing.T) {
	page, err := os.ReadFile("../../docs/architecture.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, names := range append(shelves, []string{"shelves"}) {
		for _, n := range names {
			if !strings.Contains(string(page), "`"+n+"`") {
				t.Errorf("docs/architecture.md does not name %s", n)
			}
		}
	}
}
