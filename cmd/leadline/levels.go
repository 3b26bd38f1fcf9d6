package main

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/levels"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// levelKinds are the words that --kind is told to take; part of a kind's words is enough.
const levelKinds = "surface, standard, tropopause, freezing, significant, maximum wind, missing, top, lowest"

func (p *program) levelsCmd() *cobra.Command {
	var in inputFlags
	var kind string
	var every float64
	var by, along string
	c := &cobra.Command{
		Use:   "levels FLIGHT|FILE",
		Short: "surface, standard, tropopause, freezing, significant and maximum-wind levels, or a regular grid",
		Example: `  leadline levels 3
  leadline levels 3 --kind standard
  leadline levels flight.txt --recipe my-receiver.toml --json
  leadline levels 3 --profile descent
  leadline levels 3 --by height --every 100`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !slices.ContainsFunc(levels.Kind(math.MaxUint32).Words(), func(w string) bool { return strings.Contains(w, kind) }) {
				return usageError{fmt.Errorf("--kind %q: want one of %s", kind, levelKinds)}
			}
			o, err := p.oneOutcome(cmd, args[0], &in)
			if err != nil {
				return err
			}
			if o, err = alongProfile(o, along); err != nil {
				return err
			}
			if by != "" {
				return p.printGrid(o, by, every)
			}
			list := o.Levels.Levels
			if kind != "" {
				list = nil
				for _, l := range o.Levels.Levels {
					for _, w := range l.Words {
						if strings.Contains(w, kind) {
							list = append(list, l)
							break
						}
					}
				}
			}
			if p.json {
				set := o.Levels
				set.Levels = list
				return p.printJSON(set)
			}
			p.printProfile(o)
			p.printLevels(list)
			fmt.Fprintf(p.out, "\ntropopause: %s\n", o.Levels.Tropopauses)
			if l := o.Levels.ColdPoint; l != nil {
				fmt.Fprintf(p.out, "cold point: %s hPa, %s °C, %s gpm\n", figure(l.Pressure, 1), celsius(l.Temperature, 1), figure(l.Geopotential, 0))
			}
			for _, l := range o.Levels.Of(levels.MaximumWind) {
				fmt.Fprintf(p.out, "maximum wind: %s° %s m/s at %s hPa; vector difference to 1 km below %s, above %s m/s\n", figure(l.Direction, 0), figure(l.Speed, 1), figure(l.Pressure, 1),
					figure(l.ShearBelow, 1), figure(l.ShearAbove, 1))
			}
			return nil
		},
	}
	in.add(c)
	addProfile(c, &along)
	c.Flags().StringVar(&kind, "kind", "", "levels of one kind only: "+levelKinds)
	c.Flags().StringVar(&by, "by", "", "regular grid instead: height or pressure")
	c.Flags().Float64Var(&every, "every", 0, "step of the grid, m or hPa (default from the settings)")
	return c
}

// oneOutcome returns the outcome of a flight of the logbook, or of a file.
func (p *program) oneOutcome(cmd *cobra.Command, word string, in *inputFlags) (*workbench.Outcome, error) {
	if info, err := os.Stat(word); err == nil && !info.IsDir() {
		all, err := p.outcomes([]string{word}, in)
		if err != nil {
			return nil, err
		}
		if len(all) > 1 {
			return nil, fmt.Errorf("%s holds %d flights: add it to the logbook and name one of them", word, len(all))
		}
		return all[0], nil
	}
	bench, closeStore, err := p.open()
	if err != nil {
		return nil, err
	}
	defer closeStore()
	id, err := bench.Resolve(cmd.Context(), word)
	if err != nil {
		return nil, err
	}
	o, _, err := bench.Open(cmd.Context(), id)
	return o, err
}

func (p *program) printLevels(list []levels.Level) {
	var rows [][]string
	for _, l := range list {
		rows = append(rows, []string{figure(l.Pressure, 1), figure(l.Geopotential, 0), celsius(l.Temperature, 1), figure(l.UTemperature, 2), celsius(l.DewPoint, 1),
			figure(l.Humidity, 0), figure(l.UHumidity, 1), figure(l.Direction, 0), figure(l.Speed, 1), figure(l.UWind, 1), figure(l.Time, 0), l.Flag.String(), strings.Join(l.Words, ", ")})
	}
	table(p.out, []string{">hPa", ">gpm", ">T °C", ">±", ">Td °C", ">RH %", ">±", ">from °", ">m/s", ">±", ">s", "flag", "what"}, rows)
}

func (p *program) printGrid(o *workbench.Outcome, by string, every float64) error {
	set := &o.Settings.Levels
	var g levels.Grid
	switch by {
	case "height":
		if every == 0 {
			every = set.HeightStep
		}
		g = levels.HeightGrid(o.Final, set, every)
	case "pressure":
		if every == 0 {
			every = set.PressureStep
		}
		g = levels.PressureGrid(o.Final, set, every)
	default:
		return usageError{fmt.Errorf("--by %q: want height or pressure", by)}
	}
	if !(every > 0) {
		return usageError{fmt.Errorf("--every %g: want a step above 0", every)}
	}
	if p.json {
		out := map[string]any{"profile": o.Final.ProfileKind(), "profile_note": o.Final.Origin.Note, "by": g.By, "step": g.Step, "rule": g.Rule, "samples": g.Samples, g.By: numbers(g.Coordinate)}
		for _, v := range g.Variables {
			out[v.Variable.Column()] = numbers(v.Values)
			out[v.Variable.String()+"_u"] = numbers(v.Uncertainty)
			flags := make([]int, len(v.Flags))
			for i, f := range v.Flags {
				flags[i] = int(f)
			}
			out[v.Variable.String()+"_flag"] = flags
		}
		return p.printJSON(out)
	}
	column := map[sounding.Variable]levels.GridVariable{}
	for _, v := range g.Variables {
		column[v.Variable] = v
	}
	cell := func(v sounding.Variable, i, decimals int) string {
		return figure(sounding.Number(column[v].Values[i]), decimals)
	}
	var rows [][]string
	for i := range g.Coordinate {
		rows = append(rows, []string{cell(sounding.Pressure, i, 2), cell(sounding.HeightMSL, i, 0), celsius(sounding.Number(column[sounding.Temperature].Values[i]), 2),
			celsius(sounding.Number(column[sounding.DewPoint].Values[i]), 2), cell(sounding.Humidity, i, 1), cell(sounding.WindDirection, i, 0), cell(sounding.WindSpeed, i, 1), fmt.Sprint(g.Samples[i])})
	}
	p.printProfile(o)
	table(p.out, []string{">hPa", ">m", ">T °C", ">Td °C", ">RH %", ">from °", ">m/s", ">samples"}, rows)
	fmt.Fprintf(p.out, "\n%s\n", g.Rule)
	return nil
}

func numbers(values []float64) []sounding.Number {
	out := make([]sounding.Number, len(values))
	for i, v := range values {
		out[i] = sounding.Number(v)
	}
	return out
}
