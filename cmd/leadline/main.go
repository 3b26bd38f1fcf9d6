// Command leadline turns balloon flights into profiles of pressure, temperature,
// humidity and wind that others can stake a forecast or a paper on.
//
// One file a verb; this package is the only place that joins disk, clock, store,
// server and the path. Exit codes: 0 done, 1 could not do it, 2 wrong usage, 3 done
// and the verdict is not accept.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // launch records may name a time zone on a machine without a zone database

	"github.com/spf13/cobra"

	"leadline/internal/workbench"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
	exitLook   = 3 // done, and a verdict is not accept
)

// usageError marks an error as a wrong use of the command line.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

// notAccepted says that the work is done and that a verdict is not accept.
type notAccepted struct{}

func (notAccepted) Error() string { return "a verdict is not accept" }

// program is what every verb is given.
type program struct {
	in       io.Reader
	out, err io.Writer
	now      func() time.Time

	logbook string
	json    bool
	quiet   bool
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, time.Now))
}

// run is main without the process: scripts in tests call it in their own process.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer, now func() time.Time) int {
	p := &program{in: in, out: out, err: errOut, now: now}
	root := p.root()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	var usage usageError
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &notAccepted{}):
		return exitLook
	case errors.As(err, &usage):
		fmt.Fprintf(errOut, "leadline: %v\n", err)
		return exitUsage
	}
	fmt.Fprintf(errOut, "leadline: %v\n", err)
	return exitFailed
}

func (p *program) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "leadline",
		Short: "quality control of radiosonde soundings, from source bytes to a documented profile",
		Long: `leadline turns each balloon flight into a profile of pressure, temperature, humidity and
wind that others can stake a forecast or a paper on, and says how each value came to be.

Start with:  leadline demo

Exit codes: 0 done, 1 could not do it, 2 wrong usage, 3 done and the verdict is not accept.`,
		Version:       workbench.Version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.NoArgs,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetVersionTemplate("leadline {{.Version}}\n")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	flags := root.PersistentFlags()
	flags.StringVar(&p.logbook, "logbook", "", "logbook file (default: $LEADLINE_LOGBOOK, else leadline.db in the working folder)")
	flags.BoolVar(&p.json, "json", false, "print JSON for scripts")
	flags.BoolVar(&p.quiet, "quiet", false, "no progress bar")
	root.AddCommand(p.demoCmd(), p.checkCmd(), p.addCmd(), p.listCmd(), p.completeFlights(p.showCmd()), p.completeFlights(p.compareCmd()), p.completeFlights(p.reprocessCmd()), p.completeFlights(p.trailCmd()), p.completeFlights(p.decideCmd(), rulingWords()...),
		p.completeFlights(p.signCmd()), p.completeFlights(p.reopenCmd()), p.completeFlights(p.historyCmd()), p.groupCmd(),
		p.prepareCmd(), p.recoveryCmd(), p.levelsCmd(), p.indicesCmd(), p.completeFlights(p.exportCmd()), p.reportCmd(), p.figureCmd(), p.recipeCmd(), p.serveCmd(), p.settingsCmd(), p.simulateCmd(), p.examineCmd(), p.messageCmd(), p.followCmd())
	inGroups(root)
	wrapArgs(root)
	return root
}

// wrapArgs makes a wrong number of arguments a usage error.
func wrapArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(cmd *cobra.Command, args []string) error {
			if err := check(cmd, args); err != nil {
				help := "leadline help" + strings.TrimPrefix(cmd.CommandPath(), "leadline")
				if cmd.HasSubCommands() {
					return usageError{fmt.Errorf("%w (%s)", err, help)}
				}
				return usageError{fmt.Errorf("%w: want %s (%s)", err, strings.TrimSuffix(cmd.UseLine(), " [flags]"), help)}
			}
			return nil
		}
	}
	for _, sub := range c.Commands() {
		wrapArgs(sub)
	}
}
