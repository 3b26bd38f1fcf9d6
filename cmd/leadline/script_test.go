package main

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"leadline/internal/sharedtest"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"leadline": main})
}

// Each script types what a user types, against the real program.
func TestScripts(t *testing.T) {
	shared := filepath.Join(sharedtest.Root(t), "..", "shared")
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("SHARED", shared)
			e.Setenv("LEADLINE_WHO", "A. Reviewer")
			return nil
		},
		Condition: func(word string) (bool, error) {
			if word == "shared" {
				_, err := os.Stat(filepath.Join(shared, "data"))
				return err == nil, nil
			}
			return false, fmt.Errorf("unknown condition %q", word)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"code":  code,
			"fetch": fetch,
			"lines": lines,
		},
	})
}

// code runs leadline and wants an exit code: code 3 check flight.txt.
func code(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: code N VERB ...")
	}
	got := 0
	if err := ts.Exec("leadline", args[1:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if fmt.Sprint(got) != args[0] {
		ts.Fatalf("exit code %d, want %s", got, args[0])
	}
}

// fetch gets a page from a server that a background command has started, waiting for it
// to come up, and prints status and body: fetch URL.
func fetch(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: fetch URL")
	}
	var last error
	for range 100 {
		response, err := http.Get(args[0])
		if err != nil {
			last = err
			time.Sleep(50 * time.Millisecond)
			continue
		}
		body, err := io.ReadAll(response.Body)
		response.Body.Close()
		ts.Check(err)
		fmt.Fprintf(ts.Stdout(), "%s\n%s\n", response.Status, body)
		if neg == (response.StatusCode < 400) {
			ts.Fatalf("status %s", response.Status)
		}
		return
	}
	ts.Fatalf("%s: %v", args[0], last)
}

// lines wants a number of lines in a file, between two bounds: lines FILE LOW HIGH.
func lines(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: lines FILE LOW HIGH")
	}
	var low, high int
	fmt.Sscan(args[1], &low)
	fmt.Sscan(args[2], &high)
	if n := strings.Count(ts.ReadFile(args[0]), "\n"); n < low || n > high {
		ts.Fatalf("%s has %d lines, want %d to %d", args[0], n, low, high)
	}
}
