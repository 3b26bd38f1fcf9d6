package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/suggest"
)

func (p *program) showCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "show FLIGHT",
		Short: "one flight: summary, events, findings, corrections, decisions",
		Example: `  leadline show 3
  leadline show reedwater-20260113T2302
  leadline show 3 --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			id, err := bench.Resolve(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			o, revision, err := bench.Open(cmd.Context(), id)
			if err != nil {
				return err
			}
			if p.json {
				r, err := jsonReport(o)
				if err != nil {
					return err
				}
				return p.printJSON(r)
			}
			f := o.Final
			p.printOutcome(o)
			for _, n := range f.Findings {
				if n.Severity == sounding.Note {
					fmt.Fprintf(p.out, "  note: %s\n", wrap(plain(n.Sentence), 94, "        "))
				}
			}
			fmt.Fprintln(p.out)
			var events [][]string
			for _, e := range []struct {
				name string
				sounding.Event
			}{{"release", f.Events.Release}, {"burst", f.Events.Burst}, {"top", f.Events.Top}, {"landing", f.Events.Landing}} {
				if e.Found {
					events = append(events, []string{e.name, e.UTC.UTC().Format("2006-01-02 15:04:05.0"), figure(e.Uncertainty, 1), figure(e.Height, 0), figure(e.Pressure, 1), fmt.Sprint(e.Line), e.Method})
				}
			}
			if len(events) > 0 {
				table(p.out, []string{"  event", "UTC", ">± s", ">m", ">hPa", ">line", "found by"}, indent(events))
				fmt.Fprintln(p.out)
			}
			for _, s := range f.Steps {
				fmt.Fprintf(p.out, "  %s, %s: %s\n", s.Variable, s.Method, wrap(plain(s.Note), 90, "    "))
			}
			for _, d := range f.Decisions {
				state := ""
				if d.Revoked != nil {
					state = fmt.Sprintf(" — taken back by %s: %s", d.Revoked.Who, d.Revoked.Reason)
				}
				fmt.Fprintf(p.out, "  decision %s: %s %s by %s: %s%s\n", d.ID, d.Action, decisionAbout(d), plain(d.Who), plain(d.Reason), plain(state))
			}
			fmt.Fprintf(p.out, "  %s\n", wrap(plain(f.SignOff.Line()), 96, "    "))
			for _, s := range f.Sources {
				fmt.Fprintf(p.out, "  source %s, %d rows, SHA-256 %s, recipe %s\n", plain(s.Name), s.Rows, s.SHA256, plain(s.Recipe))
			}
			for i, x := range suggest.For(o) {
				fmt.Fprintf(p.out, "  suggestion %d (%s): %s\n    leadline decide %s suggestion %d\n", i+1, x.Strength, wrap(plain(x.Sentence), 88, "    "), id, i+1)
			}
			fmt.Fprintf(p.out, "  flight %s, revision %d, method set %s\n", id, revision, f.MethodSet)
			return nil
		},
	}
}

// decisionAbout says in a few words what a decision is about.
func decisionAbout(d sounding.Decision) string {
	var parts []string
	for _, v := range d.Variables {
		parts = append(parts, v.String())
	}
	if list := d.Intervals(); len(list) > 0 {
		parts = append(parts, "from", list[0].From.UTC().Format("15:04:05"), "to", list[len(list)-1].To.UTC().Format("15:04:05"))
		if len(list) > 1 {
			parts = append(parts, fmt.Sprintf("in %d spans", len(list)))
		}
	}
	if d.Field != "" && d.Action != sounding.ActChooseSheet && d.Action != sounding.ActChooseSettings { // their field is a hash
		parts = append(parts, d.Field)
	}
	if d.Value != "" {
		parts = append(parts, d.Value)
	}
	if d.Group != "" {
		parts = append(parts, "("+d.Group+")")
	}
	return plain(strings.Join(parts, " "))
}
