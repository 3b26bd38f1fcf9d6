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

// notToTheEnd are the examples that are not typed as they stand beside the others and awaited,
// each with the reason and with what is done instead. An entry that is no example any more
// fails the test.
var notToTheEnd = map[string]instead{
	"leadline demo":  {already, "makes the folder that the others are typed in"},
	"leadline serve": {stopped, "shows pages until it is stopped"},
	"leadline serve --logbook campaign.db --listen 127.0.0.1:9000":           {stopped, "shows pages until it is stopped"},
	"leadline follow received.txt --record launch.toml":                      {stopped, "waits for the file to grow"},
	"leadline follow old-flight.txt --replay 100x":                           {stopped, "sends a flight's lines again, for a minute"},
	"leadline examine --tuning --fault humidity-icing --faulty 10 --clean 0": {stopped, "computes for a minute"},

	"leadline follow tcp://192.168.1.20:4001 --recipe receiver.toml --record launch.toml --serve":    {parsed, "calls another machine"},
	"leadline follow tcp://192.168.1.20:4001 --also tcp://192.168.1.21:4001 --recipe receiver.toml":  {parsed, "calls other machines"},
	"leadline follow udp://0.0.0.0:5555 --from 192.168.1.20 --recipe receiver.toml --message outbox": {parsed, "opens a port to other machines"},
	"leadline examine --clean 20 --faulty 4":                                                         {parsed, "computes for many minutes"},
	"leadline examine --sizes 0.25,0.5,1,2 --out skill.html":                                         {parsed, "computes for many minutes"},
	"leadline examine --json > skill.json":                                                           {parsed, "computes for many minutes"},
}

type instead struct {
	what   string
	reason string
}

const (
	already = "typed as it stands before all others"
	stopped = "started, must not refuse what was typed, and must end when it is interrupted"
	parsed  = "its arguments and options must be those of the verb"
)

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
	left := map[string]instead{}
	for line, in := range notToTheEnd {
		if in.reason == "" {
			t.Errorf("%s: no reason is given why it is not run to its end", line)
		}
		left[line] = in
	}
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Example != "" {
			path := c.CommandPath()
			lines := strings.Split(strings.ReplaceAll(c.Example, "\\\n", " "), "\n")
			for i, line := range lines {
				lines[i] = strings.TrimSpace(line)
				delete(left, lines[i])
			}
			examples += len(lines)
			t.Run(strings.ReplaceAll(strings.TrimPrefix(path, "leadline "), " ", "-"), func(t *testing.T) {
				t.Parallel()
				dir := t.TempDir()
				if err := os.CopyFS(dir, os.DirFS(kitchen)); err != nil {
					t.Fatal(err)
				}
				if first := before[path]; first != "" {
					typed(t, dir, first)
				}
				for _, line := range lines {
					if !strings.HasPrefix(line, path+" ") && line != path {
						t.Errorf("%q is no example of %s", line, path)
						continue
					}
					switch notToTheEnd[line].what {
					case already:
					case parsed:
						parses(t, path, line)
					default:
						typed(t, dir, line)
					}
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
	for line := range left {
		t.Errorf("%s: is listed as not run to its end, and is no example any more", line)
	}
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
	typed(t, dir, "leadline demo")
	typed(t, dir, `cp leadline-demo/logbook.db leadline.db
f=leadline-demo/flights
cp $f/03-*.txt flight.txt; cp flight.txt received.txt; head -n 900 flight.txt >old-flight.txt
sed 's/^\[site\]/[site]\nwmo_number = "00042"/' $f/03-*.launch.toml >launch.toml
cp launch.toml flight.launch.toml
cp $f/05-*-1105.txt receiver1.txt; cp $f/05-*.receiver-2.txt receiver2.txt
cp receiver1.txt first.txt; cp receiver2.txt second.txt
mkdir campaign; cp $f/01-* $f/04-* campaign
leadline recipe flight.txt >my-receiver.toml 2>/dev/null; cp my-receiver.toml receiver.toml
rm -r leadline-demo`)
	return dir
}

// parses says whether the verb of a line takes its arguments and options, without running it.
func parses(t *testing.T, path, line string) {
	t.Helper()
	if i := strings.IndexByte(line, '>'); i >= 0 {
		line = line[:i]
	}
	p := &program{in: strings.NewReader(""), out: io.Discard, err: io.Discard, now: time.Now}
	c, args, err := p.root().Find(strings.Fields(line)[1:])
	if err == nil && c.CommandPath() != path {
		t.Fatalf("%s: is typed as %s", line, c.CommandPath())
	}
	if err == nil {
		err = c.ParseFlags(args)
	}
	if err == nil {
		err = c.ValidateArgs(c.Flags().Args())
	}
	if err != nil {
		t.Errorf("%s: %v", line, err)
	}
}

// typed runs a line in a shell.
func typed(t *testing.T, dir, line string) {
	t.Helper()
	waits := notToTheEnd[line].what == stopped
	limit := 2 * time.Minute
	shell := line
	if waits {
		limit, shell = time.Second, "exec "+line // so that the interrupt comes to the program
	}
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, "sh", "-c", shell)
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.WaitDelay = 20 * time.Second
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PATH="+filepath.Join(dir, "bin")+string(os.PathListSeparator)+os.Getenv("PATH"), "LEADLINE_WHO=A. Reviewer", "LEADLINE_LOGBOOK=")
	var said strings.Builder
	cmd.Stderr = &said
	err := cmd.Run()
	if waits && ctx.Err() != nil {
		if errors.Is(err, exec.ErrWaitDelay) || cmd.ProcessState != nil && cmd.ProcessState.ExitCode() < 0 {
			t.Errorf("%s: does not end when it is interrupted: %v\n%s", line, err, said.String())
		}
		return
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
