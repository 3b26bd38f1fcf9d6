package export

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func folder(t *testing.T, dir string) (names []string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		names = append(names, e.Name())
	}
	return names
}

func holding(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

// Staged files have no name of their own until they are committed; the names that were
// there before hold the old files till then.
func TestStagedFilesGetTheirNamesWhenCommitted(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	if _, err := WriteFiles(dir, "f", []File{{".csv", holding("old")}}); err != nil {
		t.Fatal(err)
	}
	s, err := StageFiles(dir, "f", []File{{".csv", holding("new")}, {".nc", holding("netCDF")}})
	if err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(filepath.Join(dir, "f.csv")); string(b) != "old" || len(folder(t, dir)) != 3 {
		t.Errorf("before: f.csv holds %q among %v", b, folder(t, dir))
	}
	paths, err := s.Commit()
	if err != nil || !slices.Equal(paths, []string{filepath.Join(dir, "f.csv"), filepath.Join(dir, "f.nc")}) {
		t.Fatalf("%v, %v", paths, err)
	}
	if b, _ := os.ReadFile(filepath.Join(dir, "f.csv")); string(b) != "new" || !slices.Equal(folder(t, dir), []string{"f.csv", "f.nc"}) {
		t.Errorf("after: f.csv holds %q among %v", b, folder(t, dir))
	}
}

func TestWhatIsNotCommittedLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	s, err := StageFiles(dir, "f", []File{{".csv", holding("x")}})
	if err != nil {
		t.Fatal(err)
	}
	s.Discard()
	full := errors.New("disk full")
	if _, err := StageFiles(dir, "f", []File{{".csv", holding("x")}, {".nc", func(io.Writer) error { return full }}}); !errors.Is(err, full) {
		t.Errorf("%v", err)
	}
	// A name that cannot be given: a folder stands there.
	if err := os.MkdirAll(filepath.Join(dir, "g.csv", "inside"), 0o755); err != nil {
		t.Fatal(err)
	}
	s, err = StageFiles(dir, "g", []File{{".csv", holding("x")}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Commit(); err == nil {
		t.Error("a folder was written over")
	}
	if names := folder(t, dir); !slices.Equal(names, []string{"g.csv"}) {
		t.Errorf("left: %v", names)
	}
}
