package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"leadline/internal/examine"
	"leadline/internal/truth"
)

func (p *program) examineCmd() *cobra.Command {
	var clean, faulty int
	var tuning bool
	var climates, faults []string
	var sizes []float64
	var out string
	c := &cobra.Command{
		Use:   "examine",
		Short: "measure the skill of the whole path on simulated flights with a known answer",
		Long: `examine simulates flights of every climate by day and night, clean and with each fault of the
catalogue, takes their files through the path and reports how often faults are found, how often
clean flights are called faulty, the errors of release, burst and every variable raw against
final, and whether the stated uncertainty holds.

Flights for tuning and flights for reporting are never the same ones. The whole takes minutes;
Ctrl-C ends it without a report.`,
		Example: `  leadline examine --clean 20 --faulty 4
  leadline examine --tuning --fault humidity-icing --faulty 10 --clean 0
  leadline examine --sizes 0.25,0.5,1,2 --out skill.html
  leadline examine --json > skill.json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			plan := examine.Plan{Purpose: examine.Reporting, Clean: clean, Faulty: faulty, Sizes: sizes, Stop: cmd.Context().Done()}
			if tuning {
				plan.Purpose = examine.Tuning
			}
			for _, name := range climates {
				if _, err := truth.Preset(truth.Climate(name), true); err != nil {
					return usageError{err}
				}
				plan.Climates = append(plan.Climates, truth.Climate(name))
			}
			for _, name := range faults {
				if _, err := parseFault(name); err != nil {
					return usageError{err}
				}
				plan.Faults = append(plan.Faults, name)
			}
			for _, x := range sizes {
				if !(x > 0) {
					return usageError{fmt.Errorf("--sizes: %g is no factor: want numbers above 0", x)}
				}
			}
			if clean < 0 || faulty < 0 || clean+faulty == 0 {
				return usageError{errors.New("--clean and --faulty: want at least one flight")}
			}
			if bar := p.newProgress(2); bar != nil {
				plan.Progress = func(done, total int) { bar.total, bar.done = total, done-1; bar.step("") }
			}
			report, err := examine.Run(plan)
			if err != nil {
				return err
			}
			if out != "" {
				if err := os.MkdirAll(filepath.Dir(out), 0o777); err != nil {
					return err
				}
				file, err := os.Create(out)
				if err != nil {
					return err
				}
				err = nil
				switch filepath.Ext(out) {
				case ".html":
					err = report.Page(file)
				case ".json":
					encoder := json.NewEncoder(file)
					encoder.SetIndent("", "  ")
					err = encoder.Encode(report)
				default:
					report.Text(file)
				}
				if err := errors.Join(err, file.Close()); err != nil {
					return err
				}
				fmt.Fprintf(p.err, "written to %s\n", out)
			}
			if p.json {
				return p.printJSON(report)
			}
			report.Text(p.out)
			return nil
		},
	}
	flags := c.Flags()
	flags.IntVar(&clean, "clean", 10, "clean flights per climate and time of day")
	flags.IntVar(&faulty, "faulty", 2, "flights per fault, climate and time of day")
	flags.BoolVar(&tuning, "tuning", false, "use the flights for tuning instead of those for reporting")
	flags.StringArrayVar(&climates, "climate", nil, "a `climate` (default: all); may be given several times")
	flags.StringArrayVar(&faults, "fault", nil, "a `fault` (default: the whole catalogue, see simulate --list); may be given several times")
	flags.Float64SliceVar(&sizes, "sizes", nil, "`factors`, separated by commas: fly each fault that comes in sizes with its size times these as well, one flight a size, climate and time of day")
	flags.Lookup("sizes").DefValue = "" // nothing to show
	flags.StringVar(&out, "out", "", "write the report to this file as well: a page with figures (.html), JSON (.json) or Markdown")
	return c
}
