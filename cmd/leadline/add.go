package main

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"github.com/spf13/cobra"

	"leadline/internal/workbench"
)

func (p *program) addCmd() *cobra.Command {
	var in inputFlags
	c := &cobra.Command{
		Use:   "add FILE|FOLDER...",
		Short: "check flights and keep them in the logbook",
		Long: `add runs the path on every flight and keeps sources, launch record, recipe, sheet and result
in the logbook. The same bytes, or the same flight under another name, are recognised and not
stored twice. A file that cannot be read is named at the end and does not stop the others.

In a folder, files that share the part of their name before the first dot are sources of one
flight, and NAME.launch.toml is its launch record; a launch record alone is kept too.`,
		Example: `  leadline add flight.txt --record launch.toml --sheet twin-humidity
  leadline add campaign/                       # hundreds of flights, with a progress bar
  leadline add receiver1.txt receiver2.txt --join`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			q, err := in.request()
			if err != nil {
				return err
			}
			groups, err := gather(args)
			if err != nil {
				return err
			}
			if len(groups) == 0 {
				return errors.New("there is no source file to add")
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
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			results := p.addAll(cmd.Context(), bench, groups, q)
			return p.printAdded(results)
		},
	}
	in.add(c)
	return c
}

// addResult is what became of one group of files.
type addResult struct {
	Files string            `json:"files"`
	Added []workbench.Added `json:"flights"`
	Error string            `json:"error,omitempty"`
	err   error
}

// addAll adds groups with one worker a processor and returns results in their order. They
// are stored in their order as well, so that the same files always get the same numbers and
// a flight that comes twice is recognised.
func (p *program) addAll(ctx context.Context, bench *workbench.Bench, groups []flightFiles, q workbench.Request) []addResult {
	results := make([]addResult, len(groups))
	bar := p.newProgress(len(groups))
	var wait sync.WaitGroup
	var mu sync.Mutex // one step of the bar at a time
	next := make(chan int)
	stored := make([]chan struct{}, len(groups)) // closed when the group is done with
	for i := range stored {
		stored[i] = make(chan struct{})
	}
	for range min(len(groups), max(1, runtime.GOMAXPROCS(0))) {
		wait.Go(func() {
			for i := range next {
				r := addResult{Files: groups[i].name()}
				files, request, err := groups[i].load(q)
				var ready []workbench.Prepared
				if err == nil {
					ready, err = bench.Prepare(ctx, files, request)
				}
				if i > 0 {
					<-stored[i-1]
				}
				if err == nil {
					r.Added, err = bench.Keep(ctx, ready)
				}
				close(stored[i])
				if err != nil {
					r.err, r.Error = err, err.Error()
				}
				for k := range r.Added {
					r.Added[k].Outcome = nil // thousands of them would fill the memory
				}
				results[i] = r
				mu.Lock()
				bar.step(r.Files)
				mu.Unlock()
			}
		})
	}
	for i := range groups {
		if ctx.Err() != nil {
			results[i] = addResult{Files: groups[i].name(), err: ctx.Err(), Error: "stopped before it was read"}
			continue // and so are all behind it: nobody waits for them
		}
		next <- i
	}
	close(next)
	wait.Wait()
	return results
}

// printAdded prints the table of verdicts. Files that failed make the exit code 1, a
// verdict that is not accept makes it 3.
func (p *program) printAdded(results []addResult) error {
	var rows []workbench.Row
	known, failed := 0, 0
	for _, r := range results {
		if r.err != nil {
			failed++
		}
		for _, a := range r.Added {
			if a.Known != "" {
				known++
				if !p.json {
					fmt.Fprintf(p.out, "%s: already in the logbook as flight %s (%s)\n", plain(r.Files), a.ID, a.Known)
				}
				continue
			}
			rows = append(rows, a.Row)
		}
	}
	if p.json {
		if err := p.printJSON(results); err != nil {
			return err
		}
	} else {
		if len(rows) > 0 {
			workbench.SortWorstFirst(rows)
			p.printRows(rows)
		}
		for _, r := range results {
			if r.err != nil {
				fmt.Fprintf(p.err, "not added: %s: %v\n", plain(r.Files), r.err)
			}
		}
	}
	switch {
	case failed > 0:
		return fmt.Errorf("%d of %d could not be added; the others are in the logbook", failed, len(results))
	default:
		for _, r := range rows {
			if r.Verdict != "accept" {
				return notAccepted{}
			}
		}
	}
	return nil
}
