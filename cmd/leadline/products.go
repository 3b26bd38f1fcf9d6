package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/export"
	"leadline/internal/levels"
	"leadline/internal/report"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// htmlFormat is the report page, which export does not make.
const htmlFormat = "html"

// formatList names the products for help texts.
func formatList() string {
	var names []string
	for _, f := range export.Formats {
		names = append(names, f.Name)
	}
	return strings.Join(append(names, htmlFormat, "all"), ", ")
}

// parseFormats splits --format and refuses what it does not know.
func parseFormats(list string) ([]string, error) {
	var names []string
	for _, n := range strings.Split(list, ",") {
		n = strings.TrimSpace(n)
		switch n {
		case "":
			continue
		case "all":
			names = append(names, htmlFormat)
		}
		if n != htmlFormat {
			if _, err := export.ParseFormats([]string{n}); err != nil {
				return nil, usageError{fmt.Errorf("--format: %w, %s", err, htmlFormat)}
			}
		}
		names = append(names, n)
	}
	if len(names) == 0 {
		return nil, usageError{fmt.Errorf("--format is empty: want one or more of %s", formatList())}
	}
	return names, nil
}

// exported makes what is exported from an outcome; the grids only for formats that need them.
func exported(o *workbench.Outcome, formats []string, created time.Time) *export.Flight {
	set := &o.Settings.Levels
	f := &export.Flight{Final: o.Final, Levels: o.Levels, Settings: o.Settings, Created: created}
	for _, n := range formats {
		if n == "all" || n == "json" || strings.HasPrefix(n, "grid") { // the report tells their steps
			f.Grids = []levels.Grid{levels.HeightGrid(o.Final, set, set.HeightStep), levels.PressureGrid(o.Final, set, set.PressureStep)}
			break
		}
	}
	return f
}

// writeProducts writes an outcome's products into a folder and returns their names.
// created is written into them; zero leaves it out, so that two runs give equal bytes.
func writeProducts(dir string, o *workbench.Outcome, formats []string, created time.Time) ([]string, error) {
	staged, err := stageProducts(dir, o, formats, created)
	if err != nil {
		return nil, err
	}
	names, err := commitProducts(staged)
	if err != nil {
		return nil, err
	}
	return names, export.SyncFolder(dir)
}

// stageProducts writes an outcome's products under temporary names.
func stageProducts(dir string, o *workbench.Outcome, formats []string, created time.Time) (staged []*export.Staged, err error) {
	var ours []string
	for _, n := range formats {
		if n != htmlFormat {
			ours = append(ours, n)
		}
	}
	if len(ours) > 0 {
		s, err := export.Stage(dir, exported(o, ours, created), ours)
		if err != nil {
			return nil, err
		}
		staged = append(staged, s)
	}
	if len(ours) < len(formats) {
		s, err := export.StageFiles(dir, o.Final.FlightName, []export.File{{Ending: ".html", Write: func(w io.Writer) error {
			return report.HTML(w, o, report.Options{})
		}}})
		if err != nil {
			for _, s := range staged {
				s.Discard()
			}
			return nil, err
		}
		staged = append(staged, s)
	}
	return staged, nil
}

// commitProducts gives staged products their names, which it returns.
func commitProducts(staged []*export.Staged) (names []string, err error) {
	var failed []error
	for _, s := range staged {
		paths, err := s.Commit()
		if err != nil {
			failed = append(failed, err)
		}
		for _, p := range paths {
			names = append(names, filepath.Base(p))
		}
	}
	return names, errors.Join(failed...)
}

// jsonReport is the JSON report of an outcome, to stand inside other JSON.
func jsonReport(o *workbench.Outcome) (json.RawMessage, error) {
	var b bytes.Buffer
	err := export.JSON(&b, exported(o, []string{"json"}, time.Time{}))
	return b.Bytes(), err
}

func (p *program) exportCmd() *cobra.Command {
	var out, formats, along string
	var all, stamp bool
	c := &cobra.Command{
		Use:   "export [FLIGHT...]",
		Short: "write flights as netCDF, CSV, JSON, levels, grids or a page",
		Long: `export writes final profiles with flags, uncertainties, source lines and everything that was
decided. Two runs on the same logbook write the same bytes unless --stamp adds the time of writing.
--profile names another profile than the ascent: its files carry its name, and nc, json and html,
which hold the whole flight, are not made of it. A file appears under its name only when it is whole. Where flights of the logbook have the same
name, the files of the later ones are numbered -2, -3, and so on.

` + "Formats: " + formatList() + ".",
		Example: `  leadline export 3 --out products
  leadline export --all --format nc,csv,levels --out all-flights
  leadline export 3 --format grid --out -
  leadline export 3 --profile descent --format csv,levels`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if all == (len(args) > 0) {
				return usageError{fmt.Errorf("name flights, or --all")}
			}
			kind, err := sounding.ParseProfileKind(along)
			if err != nil {
				return usageError{fmt.Errorf("--profile: %w", err)}
			}
			if kind != sounding.AscentProfile && !cmd.Flags().Changed("format") {
				formats = "csv,levels"
			}
			wanted, err := parseFormats(formats)
			if err != nil {
				return err
			}
			if err := ofProfile(kind, wanted); err != nil {
				return err
			}
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			ctx := cmd.Context()
			var ids []string
			if all {
				rows, err := bench.Rows(ctx)
				if err != nil {
					return err
				}
				for _, r := range rows {
					ids = append(ids, r.ID)
				}
			}
			for _, word := range args {
				id, err := bench.Resolve(ctx, word)
				if err != nil {
					return err
				}
				ids = append(ids, id)
			}
			created := time.Time{}
			if stamp {
				created = p.now()
			}
			if out == "-" {
				for _, id := range ids {
					o, _, err := bench.Open(ctx, id)
					if err != nil {
						return err
					}
					if o, err = alongProfile(o, along); err != nil {
						return err
					}
					if err := p.exportToStdout(o, wanted); err != nil {
						return err
					}
				}
				return nil
			}
			written, err := p.exportAll(ctx, bench, ids, out, along, wanted, created)
			if err != nil {
				return err
			}
			if p.json {
				return p.printJSON(map[string]any{"folder": out, "files": written})
			}
			for _, n := range written {
				fmt.Fprintln(p.out, filepath.Join(out, n))
			}
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", ".", "folder to write to; - writes one text format to standard output")
	c.Flags().StringVar(&formats, "format", "nc,csv,json", "products to write, separated by commas")
	addProfile(c, &along)
	c.Flags().BoolVar(&all, "all", false, "every flight of the logbook")
	c.Flags().BoolVar(&stamp, "stamp", false, "write the time of writing into the files")
	return c
}

// exportAll writes flights and returns the names of the files in the order of ids. A flight
// that cannot be written does not stop the others; the error names all of them.
func (p *program) exportAll(ctx context.Context, bench *workbench.Bench, ids []string, out, along string, wanted []string, created time.Time) ([]string, error) {
	var unique uniqueNames
	names, err := exportNames(ctx, bench, &unique)
	if err != nil {
		return nil, err
	}
	bar := p.newProgress(len(ids))
	x := newExporter(out, wanted, created, bar)
	var wait sync.WaitGroup
	next := make(chan int)
	for range min(len(ids), max(1, runtime.GOMAXPROCS(0))) {
		wait.Go(func() {
			for i := range next {
				o, _, err := bench.Open(ctx, ids[i])
				if err == nil {
					o, err = alongProfile(o, along)
				}
				if err != nil {
					x.fail(i, fmt.Errorf("flight %s: %w", ids[i], err))
					continue
				}
				x.put(i, "flight "+ids[i], called(o, profileName(names[ids[i]], o)))
			}
		})
	}
	for i := range ids {
		if err := ctx.Err(); err != nil {
			x.fail(i, err)
			continue
		}
		next <- i
	}
	close(next)
	wait.Wait()
	return x.end()
}

// exporter writes the products of many flights. Making files needs the processor, and
// syncing them only waits for the disk: so whoever makes one hands it over here and makes
// the next, while a few goroutines wait for the disk. The folder is synced once, at the end.
type exporter struct {
	dir     string
	formats []string
	created time.Time
	bar     *progress

	waiting chan stagedFlight
	wait    sync.WaitGroup
	mu      sync.Mutex // one step of the bar at a time
	files   map[int][]string
	failed  map[int]error
}

type stagedFlight struct {
	place int
	about string
	files []*export.Staged
	name  string
}

func newExporter(dir string, formats []string, created time.Time, bar *progress) *exporter {
	x := &exporter{dir: dir, formats: formats, created: created, bar: bar, waiting: make(chan stagedFlight), files: map[int][]string{}, failed: map[int]error{}}
	for range 2 * max(1, runtime.GOMAXPROCS(0)) {
		x.wait.Go(func() {
			for s := range x.waiting {
				names, err := commitProducts(s.files)
				if err != nil {
					err = fmt.Errorf("%s: %w", s.about, err)
				}
				x.done(s.place, s.name, names, err)
			}
		})
	}
	return x
}

// put makes the files of a flight. place is its place among all; about names it in errors.
func (x *exporter) put(place int, about string, o *workbench.Outcome) {
	staged, err := stageProducts(x.dir, o, x.formats, x.created)
	if err != nil {
		x.done(place, o.Final.FlightName, nil, fmt.Errorf("%s: %w", about, err))
		return
	}
	x.waiting <- stagedFlight{place, about, staged, o.Final.FlightName}
}

// fail notes a flight of which there is nothing to write.
func (x *exporter) fail(place int, err error) { x.done(place, "", nil, err) }

func (x *exporter) done(place int, name string, files []string, err error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err != nil {
		x.failed[place] = err
	}
	x.files[place] = files
	if x.bar != nil {
		x.bar.step(name)
	}
}

// end waits for the disk and returns the names of all files in the order of their places.
func (x *exporter) end() ([]string, error) {
	close(x.waiting)
	x.wait.Wait()
	written := []string{}
	var failed []error
	for _, place := range slices.Sorted(maps.Keys(x.files)) {
		written = append(written, x.files[place]...)
		if err := x.failed[place]; err != nil {
			failed = append(failed, err)
		}
	}
	if len(written) > 0 {
		failed = append(failed, export.SyncFolder(x.dir))
	}
	return written, errors.Join(failed...)
}

// wholeFlight are the formats that hold the flight, not one of its profiles.
var wholeFlight = []string{"nc", "json", htmlFormat}

// ofProfile refuses formats that cannot be made of a profile other than the ascent.
func ofProfile(kind sounding.ProfileKind, formats []string) error {
	if kind == sounding.AscentProfile {
		return nil
	}
	for _, n := range formats {
		if n == "all" || slices.Contains(wholeFlight, n) {
			return usageError{fmt.Errorf("--profile %s: format %s holds the whole flight: name csv, levels, levels-nc, grid or grid-nc", kind, n)}
		}
	}
	return nil
}

// profileName adds a profile's word to a flight's name, none for the ascent.
func profileName(name string, o *workbench.Outcome) string {
	if kind := o.Final.ProfileKind(); kind != sounding.AscentProfile {
		return name + "-" + string(kind)
	}
	return name
}

// exportNames returns the name each flight of the logbook is exported under: its own, and
// where an earlier flight has the same, as two radiosondes under one balloon do, with -2,
// -3, … so that none is written over another.
func exportNames(ctx context.Context, bench *workbench.Bench, unique *uniqueNames) (map[string]string, error) {
	rows, err := bench.Rows(ctx)
	if err != nil {
		return nil, err
	}
	// Rows come worst first, which changes with every decision; the numbers of flights do not.
	rows = slices.Clone(rows)
	slices.SortFunc(rows, func(a, b workbench.Row) int {
		return cmp.Or(cmp.Compare(len(a.ID), len(b.ID)), cmp.Compare(a.ID, b.ID))
	})
	names := make(map[string]string, len(rows))
	for _, r := range rows {
		names[r.ID] = unique.of(r.Name)
	}
	return names, nil
}

// uniqueNames gives each name once, the later ones with a number.
type uniqueNames struct{ given map[string]bool }

func (u *uniqueNames) of(name string) string {
	if u.given == nil {
		u.given = map[string]bool{}
	}
	out := name
	for n := 2; u.given[out]; n++ {
		out = fmt.Sprintf("%s-%d", name, n)
	}
	u.given[out] = true
	return out
}

// called returns the outcome under another name.
func called(o *workbench.Outcome, name string) *workbench.Outcome {
	if name == "" || name == o.Final.FlightName {
		return o
	}
	renamed, final := *o, *o.Final
	final.FlightName = name
	renamed.Final = &final
	return &renamed
}

// exportToStdout writes one format of one flight to the output.
func (p *program) exportToStdout(o *workbench.Outcome, formats []string) error {
	if len(formats) != 1 {
		return usageError{fmt.Errorf("--out - takes one format, not %s", strings.Join(formats, ","))}
	}
	f := exported(o, formats, time.Time{})
	switch formats[0] {
	case htmlFormat:
		return report.HTML(p.out, o, report.Options{})
	case "nc":
		return export.NetCDF(p.out, f)
	case "csv":
		return export.CSV(p.out, f)
	case "json":
		return export.JSON(p.out, f)
	case "levels":
		return export.LevelsCSV(p.out, f)
	case "grid":
		return export.GridCSV(p.out, f, &f.Grids[0])
	}
	return usageError{fmt.Errorf("--out - cannot take format %s: give a folder", formats[0])}
}

func (p *program) reportCmd() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "report FLIGHT|FILE",
		Short: "write one flight as a page with plots, findings, corrections and decisions",
		Example: `  leadline report 3
  leadline report 3 --out flight3.html
  leadline report flight.txt --recipe my-receiver.toml --record launch.toml`,
		Args: cobra.ExactArgs(1),
	}
	var in inputFlags
	in.add(c)
	c.Flags().StringVar(&out, "out", "", "file to write to (default: the flight's name with .html); - is standard output")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		o, err := p.oneOutcome(cmd, args[0], &in)
		if err != nil {
			return err
		}
		if out == "-" {
			return report.HTML(p.out, o, report.Options{})
		}
		path := out
		if path == "" {
			path = o.Final.FlightName + ".html"
		}
		name := strings.TrimSuffix(filepath.Base(path), ".html")
		paths, err := export.WriteFiles(filepath.Dir(path), name, []export.File{{Ending: ".html", Write: func(w io.Writer) error {
			return report.HTML(w, o, report.Options{})
		}}})
		if err != nil {
			return err
		}
		if p.json {
			return p.printJSON(map[string]any{"file": paths[0]})
		}
		fmt.Fprintln(p.out, paths[0])
		return nil
	}
	return c
}
