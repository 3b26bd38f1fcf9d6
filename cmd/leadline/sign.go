package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// signed is what sign and reopen print as JSON.
type signed struct {
	Flight   string           `json:"flight"`
	Name     string           `json:"name"`
	Revision int              `json:"revision"`
	SignOff  sounding.SignOff `json:"sign_off"`
}

func (p *program) signCmd() *cobra.Command {
	var who, note string
	var despite bool
	var revision int
	c := &cobra.Command{
		Use:   "sign FLIGHT",
		Short: "sign a flight off: from then on it is locked",
		Long: `sign says that a person answers for a flight as it stands. The signature is kept with name, time,
revision, method set and a digest of the outcome, and is written into every export. A signed flight
takes no decision before it is reopened, which needs a reason and is recorded as well.

A flight whose verdict is refuse, or which has findings that nobody has accepted or dismissed, is
signed only with --despite-open and a --note that says why.

Where later methods or another version would give another outcome, list, show and exports say
"signed off, differs now". docs/methods/sign-off.md says what the digest covers and how to check it
with other tools. Exit code 0: signed, whatever the verdict; 1: not signed.`,
		Example: `  leadline sign 1 --who "A. Reviewer"
  leadline sign 3 --note "gap at 14 km is the ridge" --despite-open
  leadline sign reedwater-20260115T2309 --revision 0 --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if who = whoever(who); who == "" {
				return usageError{errors.New("who signs? give --who or set LEADLINE_WHO")}
			}
			if despite && strings.TrimSpace(note) == "" {
				return usageError{errors.New("--despite-open needs a --note that says why the flight is signed all the same")}
			}
			return p.onFlight(cmd.Context(), args[0], revision, func(bench *workbench.Bench, id string, seen int) error {
				o, revision, err := bench.Sign(cmd.Context(), id, workbench.SignRequest{Who: who, Note: note, DespiteOpen: despite}, seen)
				if errors.As(err, new(*workbench.OpenError)) {
					return fmt.Errorf("%s: settle that (leadline show %s lists it), or sign all the same with --despite-open and a --note that says why", plain(err.Error()), id)
				}
				return p.printSigned(id, o, revision, err)
			})
		},
	}
	flags := c.Flags()
	flags.StringVar(&who, "who", "", "who signs (default: $LEADLINE_WHO)")
	flags.StringVar(&note, "note", "", "what the reader should know")
	flags.BoolVar(&despite, "despite-open", false, "sign although findings are open or the verdict is refuse")
	addRevision(c, &revision)
	return c
}

func (p *program) reopenCmd() *cobra.Command {
	var who, reason string
	var revision int
	c := &cobra.Command{
		Use:   "reopen FLIGHT",
		Short: "lift the signature of a flight, with a reason",
		Long: `reopen lifts the signature of a flight so that it can be decided on again. The signature and the
reopening stay in the flight's history.`,
		Example: `  leadline reopen 3 --reason "the second receiver's file came in" --who "A. Reviewer"`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if who = whoever(who); who == "" {
				return usageError{errors.New("who reopens it? give --who or set LEADLINE_WHO")}
			}
			if strings.TrimSpace(reason) == "" {
				return usageError{errors.New("why is it reopened? give --reason")}
			}
			return p.onFlight(cmd.Context(), args[0], revision, func(bench *workbench.Bench, id string, seen int) error {
				o, revision, err := bench.Reopen(cmd.Context(), id, sounding.Reopening{Who: who, Reason: reason}, seen)
				return p.printSigned(id, o, revision, err)
			})
		},
	}
	flags := c.Flags()
	flags.StringVar(&who, "who", "", "who reopens it (default: $LEADLINE_WHO)")
	flags.StringVar(&reason, "reason", "", "why")
	addRevision(c, &revision)
	return c
}

// whoever returns the name given, or the one the environment gives.
func whoever(who string) string {
	if who == "" {
		who = os.Getenv("LEADLINE_WHO")
	}
	return strings.TrimSpace(who)
}

// onFlight opens the logbook and does something to the flight a user means; a revision
// below zero stands for the current one.
func (p *program) onFlight(ctx context.Context, word string, revision int, do func(bench *workbench.Bench, id string, seen int) error) error {
	bench, closeStore, err := p.open()
	if err != nil {
		return err
	}
	defer closeStore()
	id, err := bench.Resolve(ctx, word)
	if err != nil {
		return err
	}
	if revision < 0 {
		if _, revision, err = bench.Open(ctx, id); err != nil {
			return err
		}
	}
	return do(bench, id, revision)
}

func (p *program) printSigned(id string, o *workbench.Outcome, revision int, err error) error {
	if err != nil {
		return err
	}
	if p.json {
		return p.printJSON(signed{id, o.Final.FlightName, revision, o.Final.SignOff})
	}
	fmt.Fprintf(p.out, "%s: %s\n", plain(o.Final.FlightName), plain(o.Final.SignOff.Line()))
	if s := o.Final.SignOff.Signature; s != nil {
		fmt.Fprintf(p.out, "  verdict %s, %d %s open, revision %d, method set %s\n  digest %s\n", s.Verdict, s.Open, plural(s.Open, "finding"), s.Revision, s.MethodSet, s.Digest)
	}
	return nil
}

// addRevision adds the flag that names the revision a person looked at, -1 where none is named.
func addRevision(c *cobra.Command, revision *int) {
	flags := c.Flags()
	flags.IntVar(revision, "revision", -1, "revision of the flight you looked at; a flight that has moved on is refused (default: the current one)")
	flags.Lookup("revision").DefValue = "0" // the words above say it; -1 is no revision to type
}
