// Package sharedtest finds the open flights, messages and tables that stand
// beside the repository and are never copied into it. Tests that need them skip,
// and say so, where the folder is absent.
package sharedtest

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Dir returns the path of a file or folder below the folder "shared" that stands
// beside the repository root, for example Dir(t, "data/arm"). It skips the test,
// naming what is missing, where that path does not exist.
func Dir(t testing.TB, name string) string {
	t.Helper()
	root := Root(t)
	path := filepath.Join(root, "..", "shared", filepath.FromSlash(name))
	if _, err := os.Stat(path); err != nil {
		t.Skipf("skipped: ../shared/%s is not beside this repository, so the check against it did not run", name)
	}
	return path
}

// Root returns the repository root: the nearest folder at or above the working
// directory that holds go.mod. It fails the test where there is none.
func Root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod at or above the working directory")
		}
		dir = up
	}
}

// Tool returns the path of an installed program, for example Tool(t, "ncdump"),
// or skips the test saying which Debian package brings it.
func Tool(t testing.TB, name, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("skipped: %s is not installed (Debian package %s), so the check against it did not run", name, debianPackage)
	}
	return path
}
