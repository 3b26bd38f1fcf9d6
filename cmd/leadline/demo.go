package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// demoSeed makes the demo the same everywhere.
const demoSeed = 2031

func (p *program) demoCmd() *cobra.Command {
	var dir string
	var seed uint64
	c := &cobra.Command{
		Use:   "demo",
		Short: "make an invented lake-basin campaign, run the main job on it, say how to look at it",
		Long: `demo writes the source files and launch records of an invented campaign (a fixed site and a
vehicle, two weeks), puts every flight through the path into a logbook of its own, and prints the
table of verdicts. Every site, name and number in it is made up; the flights are simulated.`,
		Example: `  leadline demo
  leadline demo --dir lake --json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			sources := filepath.Join(dir, "flights")
			if err := writeCampaign(sources, seed); err != nil {
				return err
			}
			if p.logbook == "" {
				p.logbook = filepath.Join(dir, "logbook.db")
			}
			bench, closeStore, err := p.openOrMake()
			if err != nil {
				return err
			}
			defer closeStore()
			groups, err := gather([]string{sources})
			if err != nil {
				return err
			}
			results := p.addAll(cmd.Context(), bench, groups, workbench.Request{}, nil)
			return p.printDemo(cmd.Context(), bench, results, dir)
		},
	}
	c.Flags().StringVar(&dir, "dir", "leadline-demo", "folder to write to")
	c.Flags().Uint64Var(&seed, "seed", demoSeed, "`number` that all chance is drawn from: the same number makes the same flights")
	return c
}

// writeCampaign writes the files of the invented campaign.
func writeCampaign(dir string, seed uint64) error {
	plan, err := truth.Campaign(seed)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	files := []truth.File{truth.Diary(plan)}
	for i := range plan {
		some, err := plan[i].Files()
		if err != nil {
			return err
		}
		files = append(files, some...)
	}
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Bytes, 0o666); err != nil {
			return err
		}
	}
	return nil
}

// printDemo prints the verdicts. The demo has faults in it on purpose, so a verdict that
// is not accept is no reason for another exit code.
func (p *program) printDemo(ctx context.Context, bench *workbench.Bench, results []addResult, dir string) error {
	for _, r := range results {
		if r.err != nil {
			return fmt.Errorf("%s: %w", r.Files, r.err)
		}
	}
	rows, err := bench.Rows(ctx)
	if err != nil {
		return err
	}
	if p.json {
		return p.printJSON(rows)
	}
	count := map[string]int{}
	for _, r := range rows {
		count[r.Verdict]++
	}
	p.printRows(rows)
	fmt.Fprintf(p.out, "\n%d flights: %d accept, %d look, %d refuse. The campaign is invented and its flights are simulated, with faults put in.\n",
		len(rows), count["accept"], count["look"], count["refuse"])
	fmt.Fprintf(p.out, "\nsource files:   %s\nlogbook:        %s\n", filepath.Join(dir, "flights"), p.logbook)
	fmt.Fprintf(p.out, "see one flight: leadline show --logbook %s %s\nopen the page:  leadline serve --logbook %s\n", p.logbook, rows[0].ID, p.logbook)
	fmt.Fprintf(p.out, "(from the source tree: go run ./cmd/leadline serve --logbook %s)\n", p.logbook)
	return nil
}
