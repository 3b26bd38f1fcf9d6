package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/suggest"
	"leadline/internal/workbench"
)

func (p *program) decideCmd() *cobra.Command {
	var variables, from, to, field, value, reason, who, file string
	var preview bool
	var revision int
	var words []string
	for _, a := range sounding.Actions {
		words = append(words, string(a))
	}
	c := &cobra.Command{
		Use:   "decide FLIGHT ACTION",
		Short: "rule over a flight: exclude, restore, flag, set release, choose a sensor, correct the record",
		Long: `decide stores what a person rules, with reason and name, and runs the flight again. Nothing
is overwritten: decisions are replayed on every run and can be taken back.

Actions: ` + strings.Join(words, ", ") + `, revoke, undo, redo.
exclude, restore and flag need --variable, --from and --to; flag, set-release, set-burst and
choose-sensor need --value; correct-record needs --field and --value; accept and dismiss need
--field with the number of a finding as show lists it, or its id as --json gives it; revoke needs
--value with the id of a decision; undo takes the last decision in force back, and redo puts the
one taken back last in force again as long as nothing else was decided since. docs/methods/decision.md explains each, and the file of --file.

suggestion N takes the N-th suggestion that show lists; its evidence becomes part of the reason.

--from and --to take what trail --at takes. --preview shows what would change and stores nothing.`,
		Example: `  leadline decide 3 exclude --variable humidity --from 6200m --to 9800m --reason "sensor iced" --who "A. Reviewer"
  leadline decide 3 set-release --value 2026-01-13T23:02:04Z --reason "seen in pressure" --preview
  leadline decide 3 correct-record --field surface.pressure_hpa --value "951.2 hPa" --reason "digits swapped"
  leadline decide 3 dismiss --field 2 --reason "real inversion, seen from the mast as well"
  leadline decide 3 suggestion 1 --preview
  leadline decide 3 revoke --value d2 --reason "was the other flight"
  leadline decide 3 undo --reason "one span too many"
  leadline decide 3 redo --reason "it was right after all"
  leadline decide 3 --file decisions.toml`,
		Args: cobra.RangeArgs(1, 3),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 3 && args[1] != "suggestion" {
				return usageError{fmt.Errorf("%q is too much: only suggestion takes a number", args[2])}
			}
			if who = whoever(who); who == "" && !preview {
				return usageError{errors.New("who decides? give --who or set LEADLINE_WHO")}
			}
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			ctx := cmd.Context()
			id, err := bench.Resolve(ctx, args[0])
			if err != nil {
				return err
			}
			o, current, err := bench.Open(ctx, id)
			if err != nil {
				return err
			}
			if revision < 0 {
				revision = current
			}
			if file != "" {
				list, err := readDecisions(file)
				if err != nil {
					return err
				}
				if preview {
					return p.previewAll(o, list, who)
				}
				for _, d := range list {
					if d.Who == "" {
						d.Who = who
					}
					d.ID = ""
					if _, o, revision, err = bench.Decide(ctx, id, d, revision); err != nil {
						return err
					}
				}
				fmt.Fprintf(p.err, "%d %s stored\n", len(list), plural(len(list), "decision"))
				return p.printOutcomes([]*workbench.Outcome{o})
			}
			if len(args) < 2 {
				return usageError{errors.New("say what to decide: " + strings.Join(words, ", ") + ", revoke, undo, redo, or --file")}
			}
			if args[1] == "revoke" {
				if value == "" || reason == "" {
					return usageError{errors.New("revoke needs --value with the id of the decision, and --reason")}
				}
				o, _, err := bench.Revoke(ctx, id, value, sounding.Revoked{Reason: reason, Who: who}, revision)
				if err != nil {
					return err
				}
				return p.printOutcomes([]*workbench.Outcome{o})
			}
			if args[1] == "undo" || args[1] == "redo" {
				return p.undoOrRedo(ctx, bench, id, args[1], reason, who, revision, preview)
			}
			if args[1] == "suggestion" {
				if len(args) < 3 {
					return usageError{errors.New("which suggestion? leadline show lists them with their numbers")}
				}
				return p.takeSuggestion(cmd, bench, id, o, args[2], reason, who, revision, preview)
			}
			d := sounding.Decision{Action: sounding.Action(args[1]), Field: field, Value: value, Reason: reason, Who: who}
			if err := fill(&d, o, variables, from, to); err != nil {
				return err
			}
			if d.Action == sounding.ActAccept || d.Action == sounding.ActDismiss {
				if d.Field, err = findingOf(o, d.Field); err != nil {
					return usageError{err}
				}
			}
			probe := d
			probe.ID = "new"
			if err := probe.Validate(); err != nil {
				return usageError{err}
			}
			difference, _, err := bench.Preview(ctx, id, d)
			if err != nil {
				return err
			}
			if preview {
				if p.json {
					return p.printJSON(difference)
				}
				p.printDifference(difference)
				return nil
			}
			stored, after, _, err := bench.Decide(ctx, id, d, revision)
			if err != nil {
				return err
			}
			if !p.json {
				fmt.Fprintf(p.out, "decision %s stored for flight %s\n", stored.ID, id)
				p.printDifference(difference)
				fmt.Fprintln(p.out)
			}
			return p.printOutcomes([]*workbench.Outcome{after})
		},
	}
	flags := c.Flags()
	flags.StringVar(&variables, "variable", "", "variables, separated by commas: "+variableNames()+"; wind means all of the wind")
	flags.StringVar(&from, "from", "", "first sample: time since release, instant, height, pressure or source line")
	flags.StringVar(&to, "to", "", "last sample")
	flags.StringVar(&field, "field", "", "item of the launch record, or number or id of a finding")
	flags.StringVar(&value, "value", "", "new value, instant, flag, sensor (a or b) or id of a decision")
	flags.StringVar(&reason, "reason", "", "why")
	flags.StringVar(&who, "who", "", "who decides (default: $LEADLINE_WHO)")
	flags.StringVar(&file, "file", "", "file of decisions, TOML or JSON, to store one after the other")
	flags.BoolVar(&preview, "preview", false, "show what would change and store nothing")
	addRevision(c, &revision)
	return c
}

// undoOrRedo takes the last decision back, or puts the one taken back last in force again.
func (p *program) undoOrRedo(ctx context.Context, bench *workbench.Bench, id, which, reason, who string, revision int, preview bool) error {
	if preview {
		return usageError{fmt.Errorf("%s has no --preview: it changes the flight back to what it was, and can itself be taken back", which)}
	}
	if strings.TrimSpace(reason) == "" {
		return usageError{fmt.Errorf("%s needs --reason", which)}
	}
	do, done := bench.Undo, "taken back"
	if which == "redo" {
		do, done = bench.Redo, "in force again"
	}
	before, _, err := bench.Open(ctx, id)
	if err != nil {
		return err
	}
	decision, after, _, err := do(ctx, id, sounding.Revoked{Reason: reason, Who: who}, revision)
	if err != nil {
		return err
	}
	if !p.json {
		fmt.Fprintf(p.out, "decision %s of flight %s is %s\n", decision, id, done)
		p.printDifference(workbench.Compare(before, after))
		fmt.Fprintln(p.out)
	}
	return p.printOutcomes([]*workbench.Outcome{after})
}

// takeSuggestion stores every decision of one suggestion, with its evidence as the reason.
func (p *program) takeSuggestion(cmd *cobra.Command, bench *workbench.Bench, id string, o *workbench.Outcome, number, reason, who string, revision int, preview bool) error {
	list := suggest.For(o)
	n, err := strconv.Atoi(number)
	if err != nil || n < 1 || n > len(list) {
		return usageError{fmt.Errorf("suggestion %q: flight %s has %d of them, leadline show lists them", number, id, len(list))}
	}
	chosen := list[n-1]
	in := o.Inputs
	in.Decisions = append([]sounding.Decision(nil), in.Decisions...)
	for i, d := range chosen.Decisions {
		d.ID, d.Who = fmt.Sprintf("new%d", i+1), who
		if reason != "" {
			d.Reason = reason + " (" + d.Reason + ")"
		}
		chosen.Decisions[i] = d
		in.Decisions = append(in.Decisions, d)
	}
	after, err := workbench.Run(in)
	if err != nil {
		return err
	}
	difference := workbench.Compare(o, after)
	if preview {
		if p.json {
			return p.printJSON(difference)
		}
		p.printDifference(difference)
		return nil
	}
	for _, d := range chosen.Decisions {
		d.ID = ""
		stored, _, next, err := bench.Decide(cmd.Context(), id, d, revision)
		if err != nil {
			return err
		}
		revision = next
		if !p.json {
			fmt.Fprintf(p.out, "decision %s stored for flight %s\n", stored.ID, id)
		}
	}
	if !p.json {
		p.printDifference(difference)
		fmt.Fprintln(p.out)
	}
	final, _, err := bench.Open(cmd.Context(), id)
	if err != nil {
		return err
	}
	return p.printOutcomes([]*workbench.Outcome{final})
}

// previewAll says what the decisions of a file would change together.
func (p *program) previewAll(o *workbench.Outcome, list []sounding.Decision, who string) error {
	in := o.Inputs
	in.Decisions = append([]sounding.Decision(nil), in.Decisions...)
	for i, d := range list {
		d.ID = fmt.Sprintf("new%d", i+1)
		if d.Who == "" {
			d.Who = who
		}
		in.Decisions = append(in.Decisions, d)
	}
	after, err := workbench.Run(in)
	if err != nil {
		return err
	}
	difference := workbench.Compare(o, after)
	if p.json {
		return p.printJSON(difference)
	}
	p.printDifference(difference)
	return nil
}

// findingOf returns the id of a finding given by its number in the list of findings that
// set flags, or by its id.
func findingOf(o *workbench.Outcome, word string) (string, error) {
	number, err := strconv.Atoi(word)
	counted := 0
	for _, f := range o.Final.Findings {
		if f.ID == word {
			return word, nil
		}
		if f.Severity == sounding.Note {
			continue
		}
		if counted++; err == nil && counted == number {
			return f.ID, nil
		}
	}
	if word == "" {
		return "", errors.New("which finding? give --field with its number, which leadline show lists")
	}
	return "", fmt.Errorf("the flight has no finding %q: leadline show numbers %d, --json gives the ids of the others", word, counted)
}

// fill reads variables and span into a decision.
func fill(d *sounding.Decision, o *workbench.Outcome, variables, from, to string) error {
	for _, name := range strings.Split(variables, ",") {
		name = strings.TrimSpace(name)
		switch name {
		case "":
			continue
		case "wind":
			name = sounding.WindSpeed.String()
		}
		v, err := sounding.ParseVariable(name)
		if err != nil {
			return usageError{fmt.Errorf("%w: want one of %s, wind", err, variableNames())}
		}
		d.Variables = append(d.Variables, v)
	}
	for _, end := range []struct {
		word string
		into *time.Time
	}{{from, &d.From}, {to, &d.To}} {
		if end.word == "" {
			continue
		}
		t, err := place(o, end.word)
		if err != nil {
			return err
		}
		*end.into = o.Final.UTC(t).Round(time.Millisecond)
	}
	return nil
}

func (p *program) printDifference(d workbench.Difference) {
	if d.Empty() {
		fmt.Fprintln(p.out, "nothing would change")
		return
	}
	if d.Verdict[0] != d.Verdict[1] {
		fmt.Fprintf(p.out, "  verdict %s %s → %s %s\n", shape(d.Verdict[0]), d.Verdict[0], shape(d.Verdict[1]), d.Verdict[1])
	}
	if d.Release.Set() && d.Release != 0 {
		fmt.Fprintf(p.out, "  release moves by %+.1f s\n", d.Release.Value())
	}
	var rows [][]string
	for _, v := range d.Variables {
		rows = append(rows, []string{"  " + v.Variable.String(), fmt.Sprint(v.Flags), fmt.Sprintf("%d → %d", v.Usable[0], v.Usable[1]), fmt.Sprint(v.Values), figure(v.Largest, 3) + " " + v.Unit})
	}
	if len(rows) > 0 {
		table(p.out, []string{"  variable", ">flags", ">usable", ">values", ">largest change"}, rows)
	}
	if d.LevelsMove > 0 || d.Levels[0] != d.Levels[1] {
		fmt.Fprintf(p.out, "  %d levels change (%d → %d)\n", d.LevelsMove, d.Levels[0], d.Levels[1])
	}
	for _, f := range d.Gone {
		fmt.Fprintf(p.out, "  gone: %s\n", wrap(plain(f.Sentence), 90, "        "))
	}
	for _, f := range d.New {
		fmt.Fprintf(p.out, "  new:  %s\n", wrap(plain(f.Sentence), 90, "        "))
	}
}
