package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/workbench"
)

func (p *program) historyCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "history FLIGHT",
		Short: "everything that was ruled on a flight, in order: who, when, why",
		Long: `history lists every decision, undo, redo, revocation, signature and reopening of a flight in the
order they were made. Nothing is ever taken out of it.`,
		Example: `  leadline history 3
  leadline history 3 --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return p.onFlight(cmd.Context(), args[0], -1, func(bench *workbench.Bench, id string, _ int) error {
				o, revision, err := bench.Open(cmd.Context(), id)
				if err != nil {
					return err
				}
				if p.json {
					steps := o.History
					if steps == nil {
						steps = []workbench.Ruling{}
					}
					return p.printJSON(struct {
						signed
						History []workbench.Ruling `json:"history"`
					}{signed{id, o.Final.FlightName, revision, o.Final.SignOff}, steps})
				}
				fmt.Fprintf(p.out, "%s: %s, %s\n", plain(o.Final.FlightName), o.Final.SignOff.State, plain(o.Final.SignOff.Line()))
				printHistory(p.out, o.History)
				return nil
			})
		},
	}
}

// printHistory lists the steps of a flight's history.
func printHistory(w io.Writer, steps []workbench.Ruling) {
	if len(steps) == 0 {
		fmt.Fprintln(w, "  nobody has ruled on it yet")
		return
	}
	var rows [][]string
	for i := range steps {
		r := &steps[i]
		rows = append(rows, []string{"  " + fmt.Sprint(r.Revision), utcTime(r.When), plain(r.Who), stepWords(r), plain(r.Reason)})
	}
	table(w, []string{"  no", "when UTC", "who", "what", "why"}, rows)
}

// stepWords says in a few words what a step of the history did.
func stepWords(r *workbench.Ruling) string {
	about := r.ID
	if r.Decision != nil {
		about = strings.TrimSpace(r.ID + " " + string(r.Decision.Action) + " " + decisionAbout(*r.Decision))
	}
	switch r.Kind {
	case workbench.RulingDecision:
		return about
	case workbench.RulingRevocation:
		return "take back " + about
	case workbench.RulingUndo:
		return "undo " + about
	case workbench.RulingRedo:
		return "redo " + about
	case workbench.RulingSignature:
		return "sign off"
	case workbench.RulingReopening:
		return "reopen"
	}
	return string(r.Kind)
}
