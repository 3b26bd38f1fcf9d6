package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/truth"
)

func (p *program) simulateCmd() *cobra.Command {
	var climate, sheet, out string
	var night, second, vehicle bool
	var faults []string
	var seed uint64
	var list bool
	c := &cobra.Command{
		Use:   "simulate",
		Short: "make a flight with a known answer: source file, launch record and truth",
		Long: `simulate flies a balloon with a modelled radiosonde through a modelled atmosphere and writes
what a receiver would have written, the launch record an operator would have written, and the
true profile beside them. The same seed gives the same bytes. Nothing of it is a measurement.`,
		Example: `  leadline simulate --climate tropical --night --seed 7 --out sim
  leadline simulate --fault humidity-icing --fault declared-release-late=180 --out sim
  leadline simulate --list`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if list {
				return p.printFaults()
			}
			s, err := truth.Preset(truth.Climate(climate), !night)
			if err != nil {
				return usageError{err}
			}
			f, err := fileOrShipped(sheet, func(name string) ([]byte, error) { _, text, err := sounding.ShippedSheet(name); return text, err })
			if err != nil {
				return fmt.Errorf("instrument sheet: %w", err)
			}
			if s.Sheet, err = sounding.ReadSheet(f.Name, f.Bytes); err != nil {
				return err
			}
			s.Second = second
			if vehicle {
				s.Layout = truth.Vehicle
			}
			for _, word := range faults {
				fault, err := parseFault(word)
				if err != nil {
					return usageError{err}
				}
				s.Faults = append(s.Faults, fault)
			}
			flight, err := truth.Simulate(s, seed)
			if err != nil {
				return err
			}
			if err := os.MkdirAll(out, 0o777); err != nil {
				return err
			}
			name := fmt.Sprintf("sim-%d", seed)
			written := []string{}
			write := func(ending string, b []byte) error {
				written = append(written, name+ending)
				return os.WriteFile(filepath.Join(out, name+ending), b, 0o666)
			}
			for i := range flight.Receptions {
				ending := ".txt"
				if i > 0 {
					ending = fmt.Sprintf(".receiver%d.txt", i+1)
				}
				if err := write(ending, flight.Text(i)); err != nil {
					return err
				}
			}
			if err := write(".launch.toml", flight.RecordText()); err != nil {
				return err
			}
			if err := write(".truth.md", []byte(truthText(flight))); err != nil {
				return err
			}
			if p.json {
				return p.printJSON(map[string]any{"folder": out, "files": written, "recipe": s.Layout.Recipe(), "faults": flight.Injected})
			}
			fmt.Fprintf(p.out, "written to %s: %s\n", out, strings.Join(written, ", "))
			fmt.Fprintf(p.out, "leadline check %s\n", filepath.Join(out, name+".txt"))
			return nil
		},
	}
	flags := c.Flags()
	var climates []string
	for _, k := range truth.Climates() {
		climates = append(climates, string(k))
	}
	flags.StringVar(&climate, "climate", string(truth.MidLatitudeSummer), strings.Join(climates, ", "))
	flags.BoolVar(&night, "night", false, "release at local midnight instead of noon")
	flags.StringVar(&sheet, "sheet", "twin-humidity", "instrument sheet: a file or the name of a shipped one")
	flags.StringArrayVar(&faults, "fault", nil, "a `fault` of the catalogue, NAME or NAME=SIZE; may be given several times")
	flags.BoolVar(&second, "second-receiver", false, "a second receiver writes a file of its own")
	flags.BoolVar(&vehicle, "vehicle", false, "the file layout of the vehicle's receiver")
	flags.Uint64Var(&seed, "seed", 1, "`number` that all chance is drawn from")
	flags.StringVar(&out, "out", "simulated", "folder to write to")
	flags.BoolVar(&list, "list", false, "list the catalogue of faults")
	return c
}

func parseFault(word string) (truth.Fault, error) {
	name, size, given := strings.Cut(word, "=")
	f := truth.Fault{Name: name}
	if given {
		if _, err := fmt.Sscan(size, &f.Size); err != nil {
			return f, fmt.Errorf("--fault %q: want NAME or NAME=SIZE with a number", word)
		}
	}
	for _, known := range truth.Faults() {
		if known.Name == name {
			return f, nil
		}
	}
	return f, fmt.Errorf("--fault %q is not in the catalogue: leadline simulate --list", name)
}

func (p *program) printFaults() error {
	list := truth.Faults()
	if p.json {
		type entry struct {
			Name  string  `json:"name"`
			Kind  string  `json:"kind"`
			Title string  `json:"title"`
			Size  float64 `json:"size"`
			Unit  string  `json:"unit"`
		}
		out := make([]entry, len(list))
		for i, f := range list {
			out[i] = entry{f.Name, f.Kind, f.Title, f.Size, f.Unit}
		}
		return p.printJSON(out)
	}
	var rows [][]string
	for _, f := range list {
		rows = append(rows, []string{f.Name, f.Kind, fmt.Sprintf("%g %s", f.Size, f.Unit), f.Title})
	}
	table(p.out, []string{"fault", "spoils", "usual size", "what goes wrong"}, rows)
	return nil
}

// truthText says what is true of a simulated flight, for people.
func truthText(f *truth.Flight) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# What is true of this simulated flight\n\nScenario: %s, seed %d. Nothing of it is a measurement.\n\n", f.Scenario.Name, f.Seed)
	fmt.Fprintf(&b, "- released %s UTC\n", f.Truth.UTC(f.Truth.Release).Format("2006-01-02 15:04:05.00"))
	if f.Truth.Burst == f.Truth.Burst {
		fmt.Fprintf(&b, "- burst %s UTC\n", f.Truth.UTC(f.Truth.Burst).Format("2006-01-02 15:04:05.00"))
	}
	fmt.Fprintf(&b, "- lowest tropopause put at %.0f m\n", f.Truth.Tropopause)
	for _, l := range f.Truth.Layers {
		fmt.Fprintf(&b, "- %s layer from %.0f to %.0f m\n", l.Kind, l.Bottom, l.Top)
	}
	for _, i := range f.Injected {
		fmt.Fprintf(&b, "- fault %s: %s\n", i.Name, i.Sentence)
	}
	return b.String()
}
