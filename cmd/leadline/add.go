package main

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/workbench"
)

func (p *program) addCmd() *cobra.Command {
	var in inputFlags
	var exportTo, formats string
	c := &cobra.Command{
		Use:   "add FILE|FOLDER...",
		Short: "check flights and keep them in the logbook",
		Long: `add runs the path on every flight and keeps sources, launch record, recipe, sheet and result
in the logbook. The same bytes, or the same flight under another name, are recognised and not
stored twice. A file that cannot be read is named at the end and does not stop the others.

In a folder, files that share the part of their name before the first dot are sources of one
flight, and NAME.launch.toml is its launch record; a launch record alone is kept too.

--export writes the products of every flight named, new or known, at once, with the names and
bytes that export gives them: quicker than export afterwards, which reads and runs each again.`,
		Example: `  leadline add flight.txt --record launch.toml --sheet twin-humidity
  leadline add campaign/                       # hundreds of flights, with a progress bar
  leadline add receiver1.txt receiver2.txt --join
  leadline add campaign/ --export products --format nc,csv`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			q, err := in.request()
			if err != nil {
				return err
			}
			var wanted []string
			if exportTo != "" {
				if wanted, err = parseFormats(formats); err != nil {
					return err
				}
			} else if cmd.Flags().Changed("format") {
				return usageError{errors.New("--format is for --export FOLDER")}
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
			bench, closeStore, err := p.openOrMake()
			if err != nil {
				return err
			}
			defer closeStore()
			var products *addedProducts
			if exportTo != "" {
				if products, err = newAddedProducts(cmd.Context(), bench, exportTo, wanted); err != nil {
					return err
				}
			}
			results := p.addAll(cmd.Context(), bench, groups, q, products)
			if products == nil {
				return p.printAdded(results)
			}
			written, err := products.end(results)
			if said := p.printAdded(results); err == nil {
				err = said
			}
			if !p.json {
				fmt.Fprintf(p.out, "%d files in %s\n", written, plain(exportTo))
			}
			return err
		},
	}
	in.add(c)
	c.Flags().StringVar(&exportTo, "export", "", "write the products of the flights to this folder too")
	c.Flags().StringVar(&formats, "format", "nc,csv,json", "products to write with --export, separated by commas")
	return c
}

// addedProducts exports flights as they are added.
type addedProducts struct {
	bench  *workbench.Bench
	files  *exporter
	names  map[string]string // by the flight's number
	unique uniqueNames
	group  []int // which group of files each flight came from
}

func newAddedProducts(ctx context.Context, bench *workbench.Bench, dir string, formats []string) (*addedProducts, error) {
	a := &addedProducts{bench: bench, files: newExporter(dir, formats, time.Time{}, nil)}
	var err error
	a.names, err = exportNames(ctx, bench, &a.unique)
	return a, err
}

// place gives the flights of a group their names and their places among all. It is called
// in the order in which the flights are stored.
func (a *addedProducts) place(group int, added []workbench.Added) (first int) {
	first = len(a.group)
	for _, f := range added {
		if a.names[f.ID] == "" {
			a.names[f.ID] = a.unique.of(f.Row.Name)
		}
		a.group = append(a.group, group)
	}
	return first
}

// put makes the files of a flight that was added, or recognised.
func (a *addedProducts) put(ctx context.Context, place int, name string, f workbench.Added) {
	about := "flight " + f.ID
	o := f.Outcome
	if o == nil {
		var err error
		if o, _, err = a.bench.Open(ctx, f.ID); err != nil {
			a.files.fail(place, fmt.Errorf("%s: %w", about, err))
			return
		}
	}
	a.files.put(place, about, called(o, name))
}

// end waits until everything is written, tells each result what it gave and returns how
// many files there are.
func (a *addedProducts) end(results []addResult) (int, error) {
	written, err := a.files.end()
	for place, group := range a.group {
		results[group].Products = append(results[group].Products, a.files.files[place]...)
	}
	return len(written), err
}

// addResult is what became of one group of files.
type addResult struct {
	Files string            `json:"files"`
	Added []workbench.Added `json:"flights"`
	Error string            `json:"error,omitempty"`
	// Products are the files that --export wrote.
	Products []string `json:"products,omitempty"`
	err      error
}

// addAll adds groups with one worker a processor and returns results in their order. They
// are stored in their order as well, so that the same files always get the same numbers and
// a flight that comes twice is recognised.
func (p *program) addAll(ctx context.Context, bench *workbench.Bench, groups []flightFiles, q workbench.Request, products *addedProducts) []addResult {
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
				first, names := 0, []string{}
				if products != nil {
					first = products.place(i, r.Added)
					for _, a := range r.Added {
						names = append(names, products.names[a.ID])
					}
				}
				close(stored[i])
				for k, name := range names {
					products.put(ctx, first+k, name, r.Added[k])
				}
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
