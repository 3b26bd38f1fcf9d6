package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func (p *program) listCmd() *cobra.Command {
	var site, verdict, state, search string
	c := &cobra.Command{
		Use:   "list",
		Short: "the flights of the logbook, worst first",
		Example: `  leadline list
  leadline list --verdict look --site Heron
  leadline list --state "not signed off"
  leadline list --json | less`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch verdict {
			case "", sounding.Accept, sounding.Look, sounding.Refuse:
			default:
				return usageError{fmt.Errorf("--verdict %q: want accept, look or refuse", verdict)}
			}
			if state != "" && !slices.Contains(sounding.States, state) && state != openState {
				return usageError{fmt.Errorf("--state %q: want one of %s", state, stateWords())}
			}
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			all, err := bench.Rows(cmd.Context())
			if err != nil {
				return err
			}
			rows := []workbench.Row{}
			for _, r := range all {
				if (site == "" || strings.EqualFold(r.Site, site)) && (verdict == "" || r.Verdict == verdict) && inState(r, state) &&
					(search == "" || strings.Contains(strings.ToLower(r.Name+" "+r.Site+" "+r.Serial+" "+r.Line+" "+strings.Join(r.Sources, " ")), strings.ToLower(search))) {
					rows = append(rows, r)
				}
			}
			if p.json {
				return p.printJSON(rows)
			}
			if len(all) == 0 {
				fmt.Fprintln(p.out, "the logbook is empty: leadline add FILE puts the first flight into it, leadline demo makes an example")
				return nil
			}
			p.printRows(rows)
			if len(rows) < len(all) {
				fmt.Fprintf(p.out, "%d of %d flights\n", len(rows), len(all))
			}
			old := 0
			for _, r := range rows {
				if r.MethodSetNow != "" {
					old++
				}
			}
			if old > 0 {
				fmt.Fprintf(p.out, "%d %s last computed under another method set than the one that holds today: leadline reprocess shows what changes\n", old, plural(old, "flight"))
			}
			return nil
		},
	}
	c.Flags().StringVar(&site, "site", "", "flights of this site only")
	c.Flags().StringVar(&verdict, "verdict", "", "flights with this verdict only: accept, look or refuse")
	c.Flags().StringVar(&state, "state", "", "flights in this state only: "+stateWords())
	completeWords(c, "verdict", sounding.Accept, sounding.Look, sounding.Refuse)
	completeWords(c, "state", append(slices.Clone(sounding.States), openState)...)
	c.Flags().StringVar(&search, "search", "", "flights whose name, site, serial number, verdict line or source holds this text")
	return c
}

// openState stands for every state without a signature in force.
const openState = "not signed off"

func stateWords() string { return strings.Join(append(slices.Clone(sounding.States), openState), "; ") }

// inState tells whether a row is in the state asked for. What differs now is signed off, too.
func inState(r workbench.Row, state string) bool {
	switch state {
	case "":
		return true
	case openState:
		return r.Signer == ""
	case sounding.StateSigned:
		return r.Signer != ""
	}
	return r.State == state
}

// printRows prints the logbook's lines.
func (p *program) printRows(rows []workbench.Row) {
	var cells [][]string
	for _, r := range rows {
		nominal := "–"
		if !r.Nominal.IsZero() {
			nominal = r.Nominal.UTC().Format("02 15")
		}
		top := "–"
		if r.Top.Set() {
			top = fmt.Sprintf("%.1f", r.Top.Value()/1000)
		}
		cells = append(cells, []string{r.ID, plain(r.Name), nominal, utcTime(r.Release), top, figure(r.TopHPa, 1), shape(r.Verdict) + " " + r.Verdict,
			openFindings(r), standing(r), short(plain(r.Line), 72)})
	}
	table(p.out, []string{">no", "flight", "slot", "release UTC", ">top km", ">hPa", "verdict", "open", "state", "why"}, cells)
}

// standing is the state of a row with the name of who signed it.
func standing(r workbench.Row) string {
	if r.Signer == "" {
		return r.State
	}
	return r.State + ", " + plain(r.Signer)
}

// groups are the letters open findings are counted under, in the order they are shown.
var groups = []struct {
	letter string
	of     []sounding.Variable
}{
	{"p", []sounding.Variable{sounding.Pressure}},
	{"z", []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid, sounding.GeopotentialHeight, sounding.AscentRate, sounding.Latitude, sounding.Longitude}},
	{"T", []sounding.Variable{sounding.Temperature}},
	{"U", []sounding.Variable{sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.DewPoint}},
	{"W", []sounding.Variable{sounding.WindU, sounding.WindV, sounding.WindSpeed, sounding.WindDirection, sounding.VelocityEast, sounding.VelocityNorth}},
}

// openFindings counts open findings by what they are about: "T2 U1 +3", + for those
// about the flight, its record or its rows.
func openFindings(r workbench.Row) string {
	var parts []string
	rest := r.Open
	for _, g := range groups {
		n := 0
		for _, v := range g.of {
			n += r.Findings[v.String()]
		}
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%s%d", g.letter, n))
			rest -= n
		}
	}
	if rest > 0 {
		parts = append(parts, fmt.Sprintf("+%d", rest))
	}
	if len(parts) == 0 {
		return "–"
	}
	return strings.Join(parts, " ")
}

// short cuts a text to at most n characters.
func short(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRight(string(r[:n-1]), " ,;") + "…"
}
