package api

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"net/http"

	"leadline/internal/export"
	"leadline/internal/levels"
	"leadline/internal/report"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// Product is a kind of file a flight can be handed over as.
type Product struct {
	Format string `json:"format"`
	About  string `json:"about"`
	Whole  bool   `json:"whole"` // holds the whole flight: it is not made of one of its profiles
}

// reportFormat is the page to print; the other formats are those of package export.
const (
	reportFormat  = "report"
	figuresFormat = "figures"
)

// wholeFlight tells whether a format holds the flight, not one of its profiles.
func wholeFlight(format string) bool {
	return format == reportFormat || format == "nc" || format == "json"
}

// figures are the pictures of an outcome, those that it holds the data for.
func figures(o *workbench.Outcome) (files []export.File, err error) {
	for _, kind := range report.Figures {
		for _, asPNG := range []bool{true, false} {
			ending := "-" + kind + ".svg"
			if asPNG {
				ending = "-" + kind + ".png"
			}
			var b bytes.Buffer
			if err = report.Figure(&b, o, report.FigureOptions{Kind: kind, PNG: asPNG}); err != nil {
				break // the flight does not hold this one
			}
			files = append(files, export.File{Ending: ending, Write: func(w io.Writer) error {
				_, err := w.Write(b.Bytes())
				return err
			}})
		}
	}
	if len(files) > 0 {
		err = nil
	}
	return files, err
}

func (s *server) products(w http.ResponseWriter, _ *http.Request) {
	out := []Product{{reportFormat, "one page to print: profiles, findings, corrections, diagram, track", true},
		{figuresFormat, "thermodynamic diagram, hodograph and a sheet of both, PNG at 300 dpi and SVG", false}}
	for _, f := range export.Formats {
		out = append(out, Product{f.Name, f.About, wholeFlight(f.Name)})
	}
	s.reply(w, http.StatusOK, out)
}

// product hands out one format of a flight as it stands: the file, or a zip archive
// where the format is several files.
func (s *server) product(w http.ResponseWriter, r *http.Request) {
	o, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	if o, err = along(o, r); err != nil {
		s.failed(w, err)
		return
	}
	name := o.Final.FlightName
	if kind, format := o.Final.ProfileKind(), r.PathValue("format"); kind != sounding.AscentProfile && wholeFlight(format) {
		s.failed(w, unfit(fmt.Errorf("%s holds the whole flight: it is not made of the %s profile alone", format, kind)))
		return
	}
	if kind := o.Final.ProfileKind(); kind != sounding.AscentProfile {
		name += "-" + string(kind)
	}
	var b bytes.Buffer
	if format := r.PathValue("format"); format == reportFormat {
		name += ".html"
		err = report.HTML(&b, o, report.Options{})
	} else if format == figuresFormat {
		var files []export.File
		if files, err = figures(o); err != nil {
			s.failed(w, &requestError{http.StatusNotFound, err})
			return
		}
		name, err = packed(&b, name, files)
	} else {
		known, unknown := export.ParseFormats([]string{format})
		if unknown != nil {
			s.failed(w, &requestError{http.StatusNotFound, unknown})
			return
		}
		f := exported(o)
		var files []export.File
		for _, k := range known {
			files = append(files, k.Files(f)...)
		}
		name, err = packed(&b, name, files)
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", attachment(name))
	s.write(w, b.Bytes())
}

// exported is a flight with its products, as the command line exports it.
func exported(o *workbench.Outcome) *export.Flight {
	set := o.Settings
	if set == nil {
		set = workbench.DefaultSettings()
	}
	l := &set.Levels
	return &export.Flight{Final: o.Final, Levels: o.Levels, Settings: set,
		Grids: []levels.Grid{levels.HeightGrid(o.Final, l, l.HeightStep), levels.PressureGrid(o.Final, l, l.PressureStep)}}
}

func packed(w io.Writer, name string, files []export.File) (string, error) {
	if len(files) == 1 {
		return name + files[0].Ending, files[0].Write(w)
	}
	z := zip.NewWriter(w)
	for _, f := range files {
		part, err := z.Create(name + f.Ending)
		if err != nil {
			return "", err
		}
		if err := f.Write(part); err != nil {
			return "", fmt.Errorf("%s%s: %w", name, f.Ending, err)
		}
	}
	return name + ".zip", z.Close()
}
