package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/gas"
	"leadline/internal/humidity"
	"leadline/internal/ingest"
	"leadline/internal/prelaunch"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func (p *program) prepareCmd() *cobra.Command {
	var planFile, out, settings string
	var list, example bool
	c := &cobra.Command{
		Use:   "prepare --plan FILE",
		Short: "plan a release: slot, fill, drift and landing, ground check, launch list, launch sheet",
		Long: `prepare reads a plan, which is a launch record with some tables more, and prints the launch
sheet: slot and local time, gas and nozzle lift for the rate of climb that is wanted, burst,
where the flight will go and come down with its ellipse, ground check, surface observation,
gas and stock, airspace class, launch list. With --out it writes beside the sheet the launch
record that travels with the flight, the track as GeoJSON and KML, and the finder's label.

Exit code 3 says that something is to be looked at before the release. Landing areas are
estimates; airspace authority, site rules and trained practice go before this program.`,
		Example: `  leadline prepare --example > plan.toml
  leadline prepare --plan plan.toml
  leadline prepare --plan plan.toml --out monday-00 --json
  leadline prepare --launch-list > our-list.toml`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case list:
				_, err := fmt.Fprint(p.out, prelaunch.DefaultListText)
				return err
			case example:
				_, err := fmt.Fprint(p.out, prelaunch.ExamplePlan)
				return err
			case planFile == "":
				return usageError{errors.New("no plan: give --plan FILE; leadline prepare --example prints one to start from")}
			}
			in, err := p.loadPlan(planFile, settings)
			if err != nil {
				return err
			}
			sheet, err := prelaunch.Prepare(in)
			if err != nil {
				return notPlanned(filepath.Base(planFile), in, err)
			}
			var written []string
			if out != "" {
				if written, err = writeSheet(out, planFile, sheet, in.Areas); err != nil {
					return err
				}
			}
			if p.json {
				err = p.printJSON(struct {
					*prelaunch.Sheet
					Files []string `json:"files,omitempty"`
				}{sheet, written})
			} else {
				for _, line := range strings.SplitAfter(sheet.Words(), "\n") {
					fmt.Fprint(p.out, plain(strings.TrimSuffix(line, "\n")))
					if strings.HasSuffix(line, "\n") {
						fmt.Fprintln(p.out)
					}
				}
				if len(written) > 0 {
					fmt.Fprintf(p.out, "\nwritten to %s: %s\n", out, strings.Join(written, ", "))
				}
			}
			if err != nil {
				return err
			}
			if sheet.Word != prelaunch.Ready {
				return notAccepted{}
			}
			return nil
		},
	}
	c.Flags().StringVar(&planFile, "plan", "", "plan file, TOML")
	c.Flags().StringVar(&out, "out", "", "folder for the sheet, the launch record, track and label")
	c.Flags().StringVar(&settings, "settings", "", "TOML file with settings of the launch desk, instead of the shipped ones")
	c.Flags().BoolVar(&list, "launch-list", false, "print the shipped launch list, to edit")
	c.Flags().BoolVar(&example, "example", false, "print a plan to start from")
	return c
}

// notPlanned names everything a plan still lacks at once, else why it cannot be planned.
func notPlanned(name string, in prelaunch.Inputs, err error) error {
	_, missing := prelaunch.Begun(in)
	if len(missing) < 2 {
		return fmt.Errorf("%s: %w", name, err)
	}
	var texts []string
	for _, m := range missing {
		texts = append(texts, m.Text)
	}
	return fmt.Errorf("%s: the release cannot be planned yet:\n  %s", name, strings.Join(texts, "\n  "))
}

// loadPlan reads the plan and every file it names; names are relative to the plan.
func (p *program) loadPlan(path, settings string) (prelaunch.Inputs, error) {
	in := prelaunch.Inputs{Settings: prelaunch.Default(), Zone: time.UTC, Formula: humidity.MurphyKoop}
	f, err := readFile(path)
	if err != nil {
		return in, err
	}
	if len(f.Bytes) > 1<<20 {
		return in, fmt.Errorf("%s: %d bytes is more than a plan of 1 MiB", f.Name, len(f.Bytes))
	}
	if settings != "" {
		s, err := readFile(settings)
		if err != nil {
			return in, err
		}
		if in.Settings, err = prelaunch.ReadSettings(s.Name, s.Bytes); err != nil {
			return in, err
		}
	}
	recordText, planText := prelaunch.SplitPlan(f.Bytes)
	record, _, err := ingest.ReadRecord(f.Name, recordText)
	if err != nil {
		return in, err
	}
	in.Record = record
	if in.Plan, err = prelaunch.ReadPlan(f.Name, planText); err != nil {
		return in, err
	}
	plan := in.Plan
	if plan.Zone != "" {
		if in.Zone, err = time.LoadLocation(plan.Zone); err != nil {
			return in, fmt.Errorf("%s: time_zone %q: want a name such as Europe/Zurich", f.Name, plan.Zone)
		}
	}
	beside := func(name string) string {
		if filepath.IsAbs(name) {
			return name
		}
		return filepath.Join(filepath.Dir(path), filepath.FromSlash(name))
	}
	read := func(name string) (workbench.File, error) {
		b, err := readFile(beside(name))
		if err != nil {
			return b, fmt.Errorf("%s names %s: %w", f.Name, name, err)
		}
		return b, nil
	}
	if name := record.Radiosonde.Sheet; name != "" {
		text, err := fileOrShipped(name, func(name string) ([]byte, error) { _, text, err := sounding.ShippedSheet(name); return text, err })
		if err != nil {
			return in, fmt.Errorf("%s: radiosonde.sheet: %w", f.Name, err)
		}
		sheet, err := sounding.ReadSheet(text.Name, text.Bytes)
		if err != nil {
			return in, err
		}
		if formula, err := humidity.ParseFormula(sheet.Humidity.Formula); err == nil {
			in.Formula = formula
		}
	}
	if plan.Fill.Table != "" {
		b, err := read(plan.Fill.Table)
		if err != nil {
			return in, err
		}
		if in.Table, err = gas.ReadTable(b.Name, b.Bytes); err != nil {
			return in, err
		}
	}
	if plan.ListFile != "" {
		b, err := read(plan.ListFile)
		if err != nil {
			return in, err
		}
		if in.List, err = prelaunch.ReadList(b.Name, b.Bytes); err != nil {
			return in, err
		}
	}
	for _, name := range plan.Areas.Files {
		b, err := read(name)
		if err != nil {
			return in, err
		}
		areas, err := prelaunch.ReadAreas(b.Name, b.Bytes)
		if err != nil {
			return in, err
		}
		in.Areas = append(in.Areas, areas...)
	}
	switch {
	case plan.Wind.Profile != "":
		b, err := read(plan.Wind.Profile)
		if err != nil {
			return in, err
		}
		if in.Wind, err = prelaunch.ReadProfile(b.Name, b.Bytes, record.Site.Latitude.Or(45)); err != nil {
			return in, err
		}
	case plan.Wind.Flight != "":
		finals, err := p.finals(beside(plan.Wind.Flight))
		if err != nil {
			return in, err
		}
		if in.Wind, err = prelaunch.FromFlight(finals[0]); err != nil {
			return in, err
		}
	}
	if plan.NeedsFlights() {
		if in.Flown, err = p.flown(); err != nil {
			return in, err
		}
	}
	purity := plan.Flights.Purity
	if purity == 0 {
		purity = plan.Fill.Purity
	}
	for _, name := range plan.Flights.Files {
		finals, err := p.finals(beside(name))
		if err != nil {
			return in, err
		}
		for _, final := range finals {
			o, err := prelaunch.ObservedOf(final, purity/100)
			if err != nil {
				return in, err
			}
			in.Flights = append(in.Flights, o)
		}
	}
	return in, nil
}

// flown lists the flights of the logbook as far as they use up stock; none where there is
// no logbook yet.
func (p *program) flown() ([]prelaunch.Flown, error) {
	if _, err := os.Stat(p.logbookPath()); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	bench, closeStore, err := p.open()
	if err != nil {
		return nil, err
	}
	defer closeStore()
	rows, err := bench.Rows(context.Background())
	if err != nil {
		return nil, err
	}
	var out []prelaunch.Flown
	for _, r := range rows {
		f := prelaunch.Flown{Site: r.Site, At: r.Release}
		if f.At.IsZero() {
			f.At = r.Nominal
		}
		out = append(out, f)
	}
	return out, nil
}

// finals runs the path on the flights of a file or folder.
func (p *program) finals(path string) ([]*sounding.Final, error) {
	groups, err := gather([]string{path})
	if err != nil {
		return nil, err
	}
	var out []*sounding.Final
	for _, g := range groups {
		files, q, err := g.load(workbench.Request{})
		if err != nil {
			return nil, err
		}
		outcomes, err := workbench.Check(files, q)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", g.name(), err)
		}
		for _, o := range outcomes {
			out = append(out, o.Final)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s holds no flight", path)
	}
	return out, nil
}

// writeSheet writes everything that leaves the desk; each file under a temporary name
// first, then renamed.
func writeSheet(folder, planFile string, s *prelaunch.Sheet, areas []prelaunch.Area) ([]string, error) {
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return nil, err
	}
	name := strings.TrimSuffix(filepath.Base(planFile), filepath.Ext(planFile))
	var page bytes.Buffer
	if err := s.HTML(&page, areas, workbench.Version); err != nil {
		return nil, err
	}
	var printed bytes.Buffer
	if err := s.PDF(&printed, areas, workbench.Version); err != nil {
		return nil, err
	}
	release := s.Slot.Best
	if !s.Record.Release.Declared.IsZero() {
		release = s.Record.Release.Declared
	}
	var written []string
	for _, f := range []struct {
		ending string
		bytes  []byte
	}{
		{".launch.toml", ingest.WriteRecord(s.Record)},
		{".sheet.html", page.Bytes()},
		{".sheet.pdf", printed.Bytes()},
		{".track.geojson", s.Drift.GeoJSON(release)},
		{".track.kml", s.Drift.KML(s.Site+" "+release.UTC().Format("2006-01-02 15:04 UTC"), release)},
		{".label.txt", []byte(s.Label)},
	} {
		if err := writeWhole(filepath.Join(folder, name+f.ending), f.bytes); err != nil {
			return nil, err
		}
		written = append(written, name+f.ending)
	}
	return written, nil
}

func writeWhole(path string, b []byte) error {
	t, err := os.CreateTemp(filepath.Dir(path), ".leadline-*")
	if err != nil {
		return err
	}
	defer os.Remove(t.Name()) // nothing to remove once renamed
	if _, err = t.Write(b); err == nil {
		err = t.Sync()
	}
	if closed := t.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return err
	}
	if err := os.Chmod(t.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(t.Name(), path)
}
