package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func (p *program) checkCmd() *cobra.Command {
	var in inputFlags
	var out, formats string
	c := &cobra.Command{
		Use:   "check FILE|FOLDER...",
		Short: "read files, run every check and correction, print the verdict; nothing is stored",
		Long: `check takes source files through the whole path and prints what it found. Nothing is
stored; with --out the products are written.

A launch record NAME.launch.toml beside NAME.txt is found by its name. In a folder, files that
share the part of their name before the first dot are sources of one flight. A file that cannot
be read is named at the end and does not stop the others.`,
		Example: `  leadline check flight.txt --sheet twin-humidity
  leadline check flight.txt --record launch.toml --out products --format nc,csv,html
  leadline check *.cdf --recipe cf --json
  leadline check first.txt second.txt --join
  leadline check flight.txt --decisions decisions.toml`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			wanted, err := parseFormats(formats)
			if err != nil {
				return err
			}
			outcomes, unread := p.outcomes(args, &in)
			if len(outcomes) == 0 {
				return unread
			}
			var unique uniqueNames
			for i, o := range outcomes {
				if out == "" {
					continue
				}
				o = called(o, unique.of(o.Final.FlightName))
				outcomes[i] = o
				if err := os.MkdirAll(out, 0o777); err != nil {
					return err
				}
				names, err := writeProducts(out, o, wanted, time.Time{})
				if err != nil {
					return err
				}
				if !p.json {
					fmt.Fprintf(p.err, "written to %s: %s\n", out, strings.Join(names, ", "))
				}
			}
			err = p.printOutcomes(outcomes)
			if unread != nil {
				return fmt.Errorf("%w\n%d %s checked", unread, len(outcomes), plural(len(outcomes), "flight"))
			}
			return err
		},
	}
	in.add(c)
	c.Flags().StringVar(&in.decisions, "decisions", "", "file of decisions to apply, TOML or JSON")
	c.Flags().StringVar(&out, "out", "", "folder for the products")
	c.Flags().StringVar(&formats, "format", "nc,csv,json", "products to write: "+formatList())
	return c
}

// outcomes runs the path on the flights behind arguments. The error joins those of the
// flights that could not be read or run; the outcomes are of the others.
func (p *program) outcomes(args []string, in *inputFlags) ([]*workbench.Outcome, error) {
	q, err := in.request()
	if err != nil {
		return nil, err
	}
	groups, err := gather(args)
	if err != nil {
		return nil, err
	}
	if len(groups) == 0 {
		return nil, fmt.Errorf("%s: no source file in it", strings.Join(args, ", "))
	}
	if in.join {
		var all flightFiles
		for _, g := range groups {
			all.sources = append(all.sources, g.sources...)
			if all.record == "" {
				all.record = g.record
			}
		}
		groups = []flightFiles{all}
	}
	bar := p.newProgress(len(groups))
	var out []*workbench.Outcome
	var failed []error
	for _, g := range groups {
		files, request, err := g.load(q)
		if err == nil {
			var some []*workbench.Outcome
			some, err = workbench.Check(files, request)
			out = append(out, some...)
		}
		if err != nil {
			failed = append(failed, err)
		}
		bar.step(g.name())
	}
	return out, errors.Join(failed...)
}

// printOutcomes prints each flight and says by its error whether one is not accepted.
func (p *program) printOutcomes(outcomes []*workbench.Outcome) error {
	var reports []any
	for i, o := range outcomes {
		if p.json {
			r, err := jsonReport(o)
			if err != nil {
				return err
			}
			reports = append(reports, r)
			continue
		}
		if i > 0 {
			fmt.Fprintln(p.out)
		}
		p.printOutcome(o)
	}
	if p.json {
		if err := p.printJSON(reports); err != nil {
			return err
		}
	}
	for _, o := range outcomes {
		if o.Final.Verdict.Word != sounding.Accept {
			return notAccepted{}
		}
	}
	return nil
}

// printOutcome prints summary, findings and what was corrected.
func (p *program) printOutcome(o *workbench.Outcome) {
	f := o.Final
	fmt.Fprintf(p.out, "%s  %s %s\n", plain(f.FlightName), shape(f.Verdict.Word), f.Verdict.Word)
	fmt.Fprintf(p.out, "  %s\n", wrap(plain(strings.Join(f.Summary, " ")), 98, "  "))
	for _, r := range f.Verdict.Reasons {
		fmt.Fprintf(p.out, "  because %s\n", wrap(plain(r), 90, "          "))
	}
	p.printFindings(f.Findings)
}

// printFindings lists the findings that set flags, numbered as decide takes them, and
// counts the notes.
func (p *program) printFindings(list []sounding.Finding) {
	var rows [][]string
	notes := 0
	for _, f := range list {
		if f.Severity == sounding.Note {
			notes++
			continue
		}
		where := f.Field
		if f.FirstLine > 0 {
			where = fmt.Sprintf("line %d–%d", f.FirstLine, f.LastLine)
			if f.FirstLine == f.LastLine {
				where = fmt.Sprintf("line %d", f.FirstLine)
			}
		}
		word := f.Severity.String()
		if f.State != "" {
			word += ", " + f.State
		}
		rows = append(rows, []string{fmt.Sprint(len(rows) + 1), word, f.Check.String(), f.Variable.String(), where, plain(f.Sentence)})
	}
	if len(rows) > 0 {
		fmt.Fprintln(p.out)
		table(p.out, []string{"  no", "finding", "check", "about", "where", "what"}, indent(rows))
	}
	if notes > 0 {
		fmt.Fprintf(p.out, "  and %d %s (leadline show, or --json)\n", notes, plural(notes, "note"))
	}
}

func indent(rows [][]string) [][]string {
	for i := range rows {
		rows[i][0] = "  " + rows[i][0]
	}
	return rows
}
