package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
)

// endless examples wait for data, for a browser or for minutes of computing: they are
// started, must not refuse what was typed, and are stopped.
var endless = []string{"leadline serve", "leadline follow", "leadline examine"}

// before is typed before the examples of a verb that need something to be there.
var before = map[string]string{
	"leadline add":             "rm leadline.db",
	"leadline check":           "leadline export 3 --format nc --out nc && mv nc/*.nc sounding.cdf",
	"leadline compare":         `leadline decide 3 note --reason a && leadline decide 3 exclude --variable humidity --from 6200m --to 9800m --reason b`,
	"leadline group show":      groupOfOne,
	"leadline group revoke":    groupOfOne,
	"leadline reopen":          `leadline sign 3 --note n --despite-open`,
	"leadline message encode":  `leadline decide 3 correct-record --field site.wmo_number --value 00042 --reason "has one now"`,
	"leadline message decode":  theMessages,
	"leadline message inspect": theMessages,
}

const (
	groupOfOne  = `leadline group correct-record --site Heron --field site.height_m_msl --value "1072 m" --store --reason "survey"`
	theMessages = `leadline message encode flight.txt --out report.bufr && leadline message encode flight.txt --template temp --out bulletin.txt`
)

// Every example of every verb's help is typed as it stands, in a folder with the demo's
// logbook and the files the examples name, and does what it says: exit code 0, or 3 for a
// verdict that is not accept.
func TestEveryExampleOfTheHelpRuns(t *testing.T) {
	if testing.Short() {
		t.Skip("runs some ninety processes")
	}
	if runtime.GOOS == "windows" {
		t.Skip("the examples are for a shell")
	}
	kitchen := exampleFiles(t)
	examples := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Example != "" {
			path := c.CommandPath()
			lines := strings.Split(strings.ReplaceAll(c.Example, "\\\n", " "), "\n")
			examples += len(lines)
			t.Run(strings.ReplaceAll(strings.TrimPrefix(path, "leadline "), " ", "-"), func(t *testing.T) {
				t.Parallel()
				dir := t.TempDir()
				copyFolder(t, kitchen, dir)
				if first := before[path]; first != "" {
					typed(t, dir, first)
				}
				for _, line := range lines {
					line = strings.TrimSpace(line)
					if !strings.HasPrefix(line, path+" ") && line != path {
						t.Errorf("%q is no example of %s", line, path)
						continue
					}
					typed(t, dir, line)
				}
			})
		}
		for _, sub := range c.Commands() {
			if sub.Name() != "help" && sub.Name() != "completion" {
				if sub.Runnable() && sub.Example == "" && len(sub.Commands()) == 0 {
					t.Errorf("%s has no example in its help", sub.CommandPath())
				}
				walk(sub)
			}
		}
	}
	p := &program{in: strings.NewReader(""), out: io.Discard, err: io.Discard, now: time.Now}
	walk(p.root())
	if examples < 60 {
		t.Errorf("%d examples found, there ought to be more than 60", examples)
	}
}

// exampleFiles makes the folder the examples are typed in.
func exampleFiles(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	bin := filepath.Join(dir, "bin")
	if err := os.MkdirAll(bin, 0o755); err != nil {
		t.Fatal(err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(self, filepath.Join(bin, "leadline")); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"decisions.toml": "[[decision]]\naction = \"note\"\nreason = \"looked at\"\nwho = \"A. Reviewer\"\n",
		"mine.toml":      "[levels]\nheight_step_m = 20\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	_, sheet, err := sounding.ShippedSheet("twin-humidity")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "own.toml"), sheet, 0o600); err != nil {
		t.Fatal(err)
	}
	typed(t, dir, `leadline demo --dir demo >/dev/null
cp demo/logbook.db leadline.db
f=demo/flights
cp $f/03-*.txt flight.txt; cp flight.txt received.txt; head -n 900 flight.txt >old-flight.txt
sed 's/^\[site\]/[site]\nwmo_number = "00042"/' $f/03-*.launch.toml >launch.toml
cp launch.toml flight.launch.toml
cp $f/05-*-1105.txt receiver1.txt; cp $f/05-*.receiver-2.txt receiver2.txt
cp receiver1.txt first.txt; cp receiver2.txt second.txt
mkdir campaign; cp $f/01-* $f/04-* campaign
leadline recipe flight.txt >my-receiver.toml 2>/dev/null; cp my-receiver.toml receiver.toml
rm -r demo`)
	return dir
}

// typed runs a line in a shell.
func typed(t *testing.T, dir, line string) {
	t.Helper()
	waits := false
	for _, w := range endless {
		waits = waits || strings.HasPrefix(line, w)
	}
	limit := 2 * time.Minute
	shell := line
	if waits {
		limit, shell = 2*time.Second, "exec "+line // so that the interrupt comes to the program
	}
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, "sh", "-c", shell)
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.WaitDelay = 10 * time.Second
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PATH="+filepath.Join(dir, "bin")+string(os.PathListSeparator)+os.Getenv("PATH"), "LEADLINE_WHO=A. Reviewer", "LEADLINE_LOGBOOK=")
	var said strings.Builder
	cmd.Stderr = &said
	err := cmd.Run()
	if ctx.Err() != nil && waits {
		return // still at it when it was stopped
	}
	var exit *exec.ExitError
	if err == nil || errors.As(err, &exit) && exit.ExitCode() == exitLook {
		return
	}
	if waits && strings.Contains(said.String(), syscall.EADDRINUSE.Error()) {
		t.Logf("%s: the port is taken on this machine", line)
		return
	}
	t.Errorf("%s\n%v\n%s", line, err, said.String())
}

// copyFolder copies files; folders and what is linked stay links.
func copyFolder(t *testing.T, from, to string) {
	t.Helper()
	list, err := os.ReadDir(from)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		source, target := filepath.Join(from, e.Name()), filepath.Join(to, e.Name())
		if e.IsDir() {
			if err := os.Symlink(source, target); err != nil {
				t.Fatal(err)
			}
			continue
		}
		b, err := os.ReadFile(source)
		if err == nil {
			err = os.WriteFile(target, b, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}
