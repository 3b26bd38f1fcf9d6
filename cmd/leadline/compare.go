package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/comparison"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func (p *program) compareCmd() *cobra.Command {
	var axis, layers, variables string
	var gap float64
	c := &cobra.Command{
		Use:   "compare A B",
		Short: "differences of two flights, or of two versions of one, by pressure layer",
		Long: `compare takes B minus A and prints, for each variable and layer, how many samples were compared,
the mean difference, its standard deviation, the root mean square and the largest difference.

A and B are flights, or versions of a flight: after its number or name
  @raw             as received, @final the other way round
  @without:d2      as it stands without one decision
  @revision:4      as it stood at a revision
  @shipped         with the settings that come with the program
  @settings:FILE   with the settings of a file
Several may follow each other: 3@shipped@raw. Nothing is stored.

Versions of one flight are compared row by row. Different flights are compared at equal pressure
(or height, or time since release): B is interpolated to the samples of A, never beyond its ends
and never across a gap. docs/methods/comparison.md states the rules.`,
		Example: `  leadline compare 3 5
  leadline compare 3@raw 3
  leadline compare 3@without:d2 3 --variable temperature,humidity
  leadline compare 3@shipped 3@settings:mine.toml --layers 1000,700,300,100,10
  leadline compare reedwater-20260115T1105 reedwater-20260115T2309 --axis height --json`,
		Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			options := comparison.Options{Gap: gap}
			var err error
			if options.Axis, err = comparison.ParseAxis(axis); err != nil {
				return usageError{err}
			}
			if options.Bounds, err = parseNumbers(layers); err != nil {
				return usageError{fmt.Errorf("--layers: %w", err)}
			}
			if options.Only, err = variableList(variables); err != nil {
				return usageError{err}
			}
			if err := options.Validate(); err != nil {
				return usageError{err}
			}
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			a, err := p.version(cmd.Context(), bench, args[0])
			if err != nil {
				return err
			}
			b, err := p.version(cmd.Context(), bench, args[1])
			if err != nil {
				return err
			}
			r, err := bench.CompareVersions(cmd.Context(), a, b, options)
			if err != nil {
				return err
			}
			if p.json {
				return p.printJSON(r)
			}
			p.printComparison(r)
			return nil
		},
	}
	flags := c.Flags()
	flags.StringVar(&axis, "axis", "pressure", "what different flights are compared at: pressure, height or time")
	flags.StringVar(&layers, "layers", "", "bounds of the layers in hPa, falling, separated by commas (default: "+joined(comparison.DefaultBounds())+")")
	flags.Float64Var(&gap, "gap", comparison.DefaultGap, "longest stretch B is interpolated over, s")
	flags.StringVar(&variables, "variable", "", "only these variables, separated by commas; wind means all of the wind")
	return c
}

// version reads a version and finds its flight.
func (p *program) version(ctx context.Context, bench *workbench.Bench, word string) (workbench.FlightVersion, error) {
	v, err := workbench.ParseVersion(word, readFile)
	if err != nil {
		return v, usageError{err}
	}
	v.Flight, err = bench.Resolve(ctx, v.Flight)
	return v, err
}

// parseNumbers reads a list of numbers; nil for none.
func parseNumbers(list string) ([]float64, error) {
	if strings.TrimSpace(list) == "" {
		return nil, nil
	}
	var out []float64
	for _, w := range strings.Split(list, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(w), 64)
		if err != nil {
			return nil, fmt.Errorf("%q is no number", strings.TrimSpace(w))
		}
		out = append(out, x)
	}
	return out, nil
}

func joined(list []float64) string {
	words := make([]string, len(list))
	for i, x := range list {
		words[i] = fmt.Sprint(x)
	}
	return strings.Join(words, ",")
}

// variableList reads variables separated by commas; nil for none.
func variableList(list string) ([]sounding.Variable, error) {
	var out []sounding.Variable
	for _, name := range strings.Split(list, ",") {
		switch name = strings.TrimSpace(name); name {
		case "":
		case "wind":
			out = append(out, sounding.WindSpeed, sounding.WindDirection, sounding.WindU, sounding.WindV)
		default:
			v, err := sounding.ParseVariable(name)
			if err != nil {
				return nil, fmt.Errorf("%w: want one of %s, wind", err, variableNames())
			}
			out = append(out, v)
		}
	}
	return out, nil
}

func (p *program) printComparison(r workbench.VersionComparison) {
	for _, side := range []struct {
		letter string
		workbench.ComparedVersion
	}{{"A", r.A}, {"B", r.B}} {
		words := side.Words
		if words != "" {
			words = ", " + words
		}
		fmt.Fprintf(p.out, "%s  flight %s %s%s: %s %s, method set %s\n", side.letter, side.Version.Flight, plain(side.Name), plain(words), shape(side.Verdict), side.Verdict, side.MethodSet)
	}
	fmt.Fprintf(p.out, "\n%s\n", wrap("B minus A. "+r.Result.Rule, 96, ""))
	for _, n := range r.Result.Notes {
		fmt.Fprintln(p.out, wrap(n, 96, ""))
	}
	for _, only := range []struct {
		letter string
		list   []string
	}{{"A", r.Result.OnlyA}, {"B", r.Result.OnlyB}} {
		if len(only.list) > 0 {
			fmt.Fprintf(p.out, "only %s has: %s\n", only.letter, strings.Join(only.list, ", "))
		}
	}
	if len(r.Result.Variables) == 0 {
		fmt.Fprintln(p.out, "they have no variable in common")
		return
	}
	for _, v := range r.Result.Variables {
		unit := v.Unit
		if unit == "1" {
			unit = ""
		}
		fmt.Fprintf(p.out, "\n%s, %s\n", v.Label, unit)
		var rows [][]string
		add := func(layer string, s comparison.Statistics) {
			at := "–"
			if s.LargestHPa.Set() {
				at = figure(s.LargestHPa, 1)
			}
			rows = append(rows, []string{"  " + layer, fmt.Sprint(s.N), withSign(s.Mean, 3), figure(s.Deviation, 3), figure(s.RMS, 3), withSign(s.Largest, 3), at})
		}
		for i := len(v.Layers) - 1; i >= 0; i-- {
			s := v.Layers[i]
			if s.InA == 0 && s.InB == 0 {
				continue
			}
			add(fmt.Sprintf("%g – %g", s.Bottom.Value(), s.Top.Value()), s)
		}
		add("whole", v.Whole)
		table(p.out, []string{"  hPa", ">n", ">mean", ">deviation", ">rms", ">largest", ">at hPa"}, rows)
	}
}

// withSign formats a difference with its sign.
func withSign(n sounding.Number, decimals int) string {
	if !n.Set() {
		return "–"
	}
	s := fmt.Sprintf("%+.*f", decimals, n.Value())
	if strings.Trim(s[1:], "0.") == "" {
		return s[1:]
	}
	return s
}
