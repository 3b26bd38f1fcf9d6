package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/export"
	"leadline/internal/report"
)

func (p *program) figureCmd() *cobra.Command {
	var in inputFlags
	var along, out, kind string
	var width, dpi float64
	c := &cobra.Command{
		Use:   "figure FLIGHT|FILE",
		Short: "thermodynamic diagram and hodograph for a report, as PNG or SVG",
		Long: `figure draws the thermodynamic diagram, the hodograph, or a sheet of both with the indices that
are read first. The ending of --out decides the format. A PNG carries its resolution, an SVG its
width, so that both come out --width-mm wide where they are printed.`,
		Example: `  leadline figure 3
  leadline figure 3 --kind diagram --out fig4.svg --width-mm 85
  leadline figure 3 --kind hodograph --profile descent --dpi 600
  leadline figure flight.txt --recipe my-receiver.toml --out flight.png`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !slices.Contains(report.Figures, kind) {
				return usageError{fmt.Errorf("--kind %q: want one of %s", kind, strings.Join(report.Figures, ", "))}
			}
			ending := strings.ToLower(filepath.Ext(out))
			if out != "" && ending != ".png" && ending != ".svg" {
				return usageError{fmt.Errorf("--out %q: want a name that ends in .png or .svg", out)}
			}
			o, err := p.oneOutcome(cmd, args[0], &in)
			if err != nil {
				return err
			}
			if o, err = alongProfile(o, along); err != nil {
				return err
			}
			path := out
			if path == "" {
				path, ending = profileName(o.Final.FlightName, o)+"-"+kind+".png", ".png"
			}
			var b bytes.Buffer
			if err := report.Figure(&b, o, report.FigureOptions{Kind: kind, PNG: ending == ".png", WidthMM: width, DPI: dpi}); err != nil {
				return err
			}
			base := filepath.Base(path)
			name, end := strings.TrimSuffix(base, filepath.Ext(base)), filepath.Ext(base)
			paths, err := export.WriteFiles(filepath.Dir(path), name, []export.File{{Ending: end, Write: func(w io.Writer) error {
				_, err := w.Write(b.Bytes())
				return err
			}}})
			if err != nil {
				return err
			}
			if p.json {
				return p.printJSON(map[string]any{"file": paths[0], "profile": o.Final.ProfileKind()})
			}
			fmt.Fprintln(p.out, paths[0])
			return nil
		},
	}
	in.add(c)
	addProfile(c, &along)
	c.Flags().StringVar(&out, "out", "", "file to write to, .png or .svg (default: the flight's name with .png)")
	c.Flags().StringVar(&kind, "kind", "sheet", "what to draw: "+strings.Join(report.Figures, ", "))
	c.Flags().Float64Var(&width, "width-mm", 170, "width where it is printed, mm")
	c.Flags().Float64Var(&dpi, "dpi", 300, "pixels per inch of a PNG")
	return c
}
