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

func (p *program) reprocessCmd() *cobra.Command {
	var file, reason, who string
	var shipped, keep bool
	c := &cobra.Command{
		Use:   "reprocess [FLIGHT...]",
		Short: "which flights' results change with other settings, or since the program was upgraded",
		Long: `reprocess runs flights (all of them, where none is named) and lists for each what would change:
verdict, values and flags by variable, largest change, levels, method set. Nothing is stored
unless --store is given.

--settings FILE (or --shipped): with other settings. --store then puts them in the place of each
flight's own, as one decision for all of them with reason and name: the settings before stay in
the logbook, and the decision can be taken back, on one flight or on all. Flights that are signed
are listed with what would change and left as they are; reopen them first.

With neither: the flights whose line in the logbook was made under another method set, because
the program was upgraded. The line says what they were; the older values are not kept. --store
makes the lines anew.`,
		Example: `  leadline reprocess
  leadline reprocess --settings mine.toml
  leadline reprocess 3 5 --settings mine.toml --store --reason "longer filter, agreed on Monday"
  leadline reprocess --shipped --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if file != "" && shipped {
				return usageError{errors.New("give --settings or --shipped, not both")}
			}
			if who == "" {
				who = os.Getenv("LEADLINE_WHO")
			}
			other := file != "" || shipped
			if keep && other && who == "" {
				return usageError{errors.New("who decides? give --who or set LEADLINE_WHO")}
			}
			if keep && other && strings.TrimSpace(reason) == "" {
				return usageError{errors.New("why? give --reason")}
			}
			q := workbench.Proposal{Action: sounding.ActChooseSettings, Reason: reason, Who: who, Settings: workbench.SettingsChoice{Name: workbench.SettingsShipped}}
			if file != "" {
				f, err := readFile(file)
				if err != nil {
					return err
				}
				q.Settings = workbench.SettingsChoice{Name: f.Name, Text: string(f.Bytes)}
			}
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			if !other {
				return p.recompute(cmd.Context(), bench, args, keep)
			}
			ids, err := chosenFlights(cmd.Context(), bench, args)
			if err != nil {
				return err
			}
			return p.otherSettings(cmd.Context(), bench, ids, q, keep)
		},
	}
	flags := c.Flags()
	flags.StringVar(&file, "settings", "", "TOML file with the settings to compute with")
	flags.BoolVar(&shipped, "shipped", false, "compute with the settings that come with the program")
	flags.BoolVar(&keep, "store", false, "store it, where the list alone stores nothing")
	flags.StringVar(&reason, "reason", "", "why")
	flags.StringVar(&who, "who", "", "who decides (default: $LEADLINE_WHO)")
	return c
}

// chosenFlights resolves the flights named; all of the logbook, in the order of their
// numbers, where none is.
func chosenFlights(ctx context.Context, bench *workbench.Bench, words []string) ([]string, error) {
	var ids []string
	for _, w := range words {
		id, err := bench.Resolve(ctx, w)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	if len(words) > 0 {
		return ids, nil
	}
	rows, err := bench.Rows(ctx)
	for _, r := range rows {
		ids = append(ids, r.ID)
	}
	return ids, err
}

// otherSettings lists what settings would change, and stores them where that is wanted.
func (p *program) otherSettings(ctx context.Context, bench *workbench.Bench, ids []string, q workbench.Proposal, keep bool) error {
	bar := p.newProgress(len(ids))
	effects := []workbench.Effect{}
	if err := bench.PreviewGroup(ctx, q, ids, func(e workbench.Effect) error {
		bar.step(e.Name)
		effects = append(effects, e)
		return nil
	}); err != nil {
		return err
	}
	var seen []workbench.Seen
	for _, e := range effects {
		if e.Word != workbench.EffectCannot {
			seen = append(seen, workbench.Seen{Flight: e.Flight, Revision: e.Revision})
		}
	}
	var group *workbench.Group
	if keep && len(seen) > 0 {
		again := p.newProgress(len(seen))
		g, err := bench.StoreGroup(ctx, q, seen, func(int) { again.step("storing") })
		if err != nil {
			return err
		}
		group = &g
	}
	if p.json {
		return p.printJSON(struct {
			Effects []workbench.Effect `json:"effects"`
			Group   *workbench.Group   `json:"group,omitempty"`
		}{effects, group})
	}
	p.printSettingsEffects(effects)
	switch {
	case len(effects) == 0:
		fmt.Fprintln(p.out, "the logbook is empty")
	case group != nil:
		fmt.Fprintf(p.out, "stored as %s for %d %s: settings %s\n", group.ID, len(seen), plural(len(seen), "flight"), plain(group.Value))
	case keep:
		fmt.Fprintln(p.out, "nothing was stored: no flight can take them")
	default:
		fmt.Fprintf(p.out, "nothing is stored; --store --reason WHY stores it for %d %s\n", len(seen), plural(len(seen), "flight"))
	}
	return nil
}

func (p *program) printSettingsEffects(effects []workbench.Effect) {
	var rows [][]string
	counts := map[string]int{}
	for _, e := range effects {
		counts[e.Word]++
		verdict := shape(e.Verdict[0]) + " " + e.Verdict[0]
		if e.Verdict[1] != e.Verdict[0] {
			verdict += " → " + shape(e.Verdict[1]) + " " + e.Verdict[1]
		}
		var changed []string
		for _, v := range e.Variables {
			changed = append(changed, fmt.Sprintf("%s %d/%d", v.Variable, v.Values, v.Flags))
		}
		word := e.Word
		if e.Signed != "" {
			word = "signed off by " + plain(e.Signed)
		}
		why := strings.Join(changed, ", ")
		if why == "" {
			why = plain(e.Why)
		}
		rows = append(rows, []string{e.Flight, plain(e.Name), word, verdict, orDash(e.Largest), fmt.Sprint(e.Moved), e.MethodSet[0] + " → " + e.MethodSet[1], short(why, 90)})
	}
	if len(rows) > 0 {
		table(p.out, []string{">no", "flight", "effect", "verdict", "largest change", ">levels", "method set", "values/flags changed"}, rows)
		fmt.Fprintf(p.out, "%d of %d %s change, %d do not, %d cannot take it\n", counts[workbench.EffectChanges], len(effects), plural(len(effects), "flight"), counts[workbench.EffectNone], counts[workbench.EffectCannot])
	}
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

// recompute lists the flights whose lines were made under another method set, and makes the
// lines anew where that is wanted.
func (p *program) recompute(ctx context.Context, bench *workbench.Bench, words []string, keep bool) error {
	rows, err := bench.Outdated(ctx)
	if err != nil {
		return err
	}
	if len(words) > 0 {
		ids, err := chosenFlights(ctx, bench, words)
		if err != nil {
			return err
		}
		wanted := map[string]bool{}
		for _, id := range ids {
			wanted[id] = true
		}
		kept := rows[:0:0]
		for _, r := range rows {
			if wanted[r.ID] {
				kept = append(kept, r)
			}
		}
		rows = kept
	}
	bar := p.newProgress(len(rows))
	effects := []workbench.RowEffect{}
	work := bench.PreviewToday
	if keep {
		work = bench.Recompute
	}
	if err := work(ctx, rows, func(e workbench.RowEffect) error {
		bar.step(e.Name)
		effects = append(effects, e)
		return nil
	}); err != nil {
		return err
	}
	if p.json {
		return p.printJSON(effects)
	}
	if len(effects) == 0 {
		fmt.Fprintln(p.out, "every flight was last computed under the method set that holds today")
		return nil
	}
	var cells [][]string
	changed := 0
	for _, e := range effects {
		verdict := shape(e.Verdict[0]) + " " + e.Verdict[0]
		if e.Verdict[1] != e.Verdict[0] {
			verdict += " → " + shape(e.Verdict[1]) + " " + e.Verdict[1]
		}
		word := e.Word
		if e.Signed != "" {
			word += ", signed off by " + plain(e.Signed)
		}
		if e.Word == workbench.EffectChanges {
			changed++
		}
		cells = append(cells, []string{e.Flight, plain(e.Name), word, verdict, fmt.Sprintf("%d → %d", e.Open[0], e.Open[1]), withSign(e.Temperature, 1), withSign(e.Humidity, 1),
			e.MethodSet[0] + " → " + e.MethodSet[1], short(plain(e.Why), 60)})
	}
	table(p.out, []string{">no", "flight", "effect", "verdict", "open", ">largest K", ">%", "method set", ""}, cells)
	fmt.Fprintf(p.out, "%d of %d %s change; the older values are not kept, largest changes are those on the 60 heights of the sketches\n", changed, len(effects), plural(len(effects), "flight"))
	if keep {
		fmt.Fprintln(p.out, "their lines in the logbook were made anew")
	} else {
		fmt.Fprintln(p.out, "nothing is stored; --store makes their lines in the logbook anew")
	}
	return nil
}
