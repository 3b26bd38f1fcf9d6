package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/indices"
	"leadline/internal/sounding"
)

func (p *program) indicesCmd() *cobra.Command {
	var in inputFlags
	var text, conventions bool
	var search, along string
	c := &cobra.Command{
		Use:   "indices FLIGHT|FILE",
		Short: "parcels, shear, water, inversions and the other indices, each with uncertainty and convention",
		Long: `indices reads off the ascent, or the profile you name, what forecasters look for. Each number says
by which convention it was computed and how sure it is; where data are missing in its layer, it says why there is no
number. --text prints levels and indices in plain ASCII for a slow line.`,
		Example: `  leadline indices 3
  leadline indices 3 --search cape --conventions
  leadline indices 3 --text
  leadline indices 3 --profile merged
  leadline indices flight.txt --recipe my-receiver.toml --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if text && p.json {
				return usageError{errors.New("give --text or --json, not both")}
			}
			o, err := p.oneOutcome(cmd, args[0], &in)
			if err != nil {
				return err
			}
			if o, err = alongProfile(o, along); err != nil {
				return err
			}
			set := o.Indices()
			if text {
				return indices.TextProfile(p.out, o.Final, &o.Levels, &set)
			}
			kept := []indices.Index{}
			for _, x := range set.Indices {
				if search == "" || strings.Contains(strings.ToLower(x.Name+" "+x.Label), strings.ToLower(search)) {
					kept = append(kept, x)
				}
			}
			if p.json {
				set.Indices = kept
				return p.printJSON(set)
			}
			var rows [][]string
			for _, x := range kept {
				value, u := significantFigures(x.Value, x.Uncertainty)
				row := []string{x.Label, value, u, x.Unit, plain(x.Refusal)}
				if x.Value.Set() {
					row[4] = plain(x.Note)
				}
				if conventions {
					row[4] = strings.TrimSpace(plain(x.Convention) + ". " + row[4])
				}
				rows = append(rows, row)
			}
			p.printProfile(o)
			table(p.out, []string{"index, " + set.Profile, ">value", ">± (k=1)", "unit", "note, or why there is none"}, rows)
			for _, v := range set.Inversions {
				fmt.Fprintf(p.out, "%s: inversion from %s to %s m above the release point, %s K\n", set.Profile, figure(v.BaseHeight, 0), figure(v.TopHeight, 0), figure(v.Strength, 1))
			}
			for _, d := range set.Ducts {
				fmt.Fprintf(p.out, "%s: duct up to %s m above the release point, %s M units\n", set.Profile, figure(d.Top, 0), figure(d.Strength, 0))
			}
			for _, n := range set.Notes {
				fmt.Fprintln(p.out, wrap(plain(n), 96, "  "))
			}
			return nil
		},
	}
	in.add(c)
	addProfile(c, &along)
	c.Flags().BoolVar(&text, "text", false, "plain text of levels and indices for a slow line")
	c.Flags().BoolVar(&conventions, "conventions", false, "say by which convention each number was computed")
	c.Flags().StringVar(&search, "search", "", "indices whose name holds this text")
	return c
}

// significantFigures formats a value with as many decimals as its uncertainty asks for:
// two figures of the uncertainty.
func significantFigures(value, u sounding.Number) (string, string) {
	decimals := 1
	if u.Set() && u > 0 {
		decimals = 0
		for x := u.Value(); x < 10 && decimals < 8; x *= 10 {
			decimals++
		}
	}
	return figure(value, decimals), figure(u, decimals)
}
