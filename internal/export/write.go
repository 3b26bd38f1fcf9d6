package export

import (
	"fmt"
	"io"
	"strings"
)

// Format is one kind of file.
type Format struct {
	Name  string // as a user asks for it
	About string // one line for help texts
	files func(f *Flight) []File
}

// File is a file to be written: what stands behind the flight's name, and its content.
type File struct {
	Ending string
	Write  func(w io.Writer) error
}

func one(ending string, write func(io.Writer, *Flight) error) func(*Flight) []File {
	return func(f *Flight) []File {
		return []File{{ending, func(w io.Writer) error { return write(w, f) }}}
	}
}

// Formats lists what Write can make, in the order of help texts.
var Formats = []Format{
	{"nc", "whole flight, netCDF with CF and ACDD attributes", one(".nc", NetCDF)},
	{"csv", "whole flight, CSV with names and units in the first two rows", one(".csv", CSV)},
	{"json", "report: events, verdict, findings, corrections, levels, sources", one(".json", JSON)},
	{"levels", "surface, standard, significant and other levels, CSV", one(".levels.csv", LevelsCSV)},
	{"levels-nc", "the levels, netCDF", one(".levels.nc", NetCDFLevels)},
	{"grid", "profile on regular heights and pressures, CSV", func(f *Flight) (out []File) {
		for i := range f.Grids {
			g := &f.Grids[i]
			out = append(out, File{"." + gridLabel(g) + ".csv", func(w io.Writer) error { return GridCSV(w, f, g) }})
		}
		return out
	}},
	{"grid-nc", "profile on regular heights and pressures, netCDF", func(f *Flight) (out []File) {
		for i := range f.Grids {
			g := &f.Grids[i]
			out = append(out, File{"." + gridLabel(g) + ".nc", func(w io.Writer) error { return NetCDFGrid(w, f, g) }})
		}
		return out
	}},
}

// ParseFormats reads names of formats; "all" is every one. An unknown name is an error
// that lists those there are.
func ParseFormats(names []string) ([]Format, error) {
	var out []Format
	seen := map[string]bool{}
	add := func(f Format) {
		if !seen[f.Name] {
			seen[f.Name] = true
			out = append(out, f)
		}
	}
next:
	for _, n := range names {
		for _, f := range Formats {
			if n == "all" || n == f.Name {
				add(f)
				if n == f.Name {
					continue next
				}
			}
		}
		if n != "all" {
			known := make([]string, len(Formats))
			for i, f := range Formats {
				known[i] = f.Name
			}
			return nil, fmt.Errorf("%q is no export format: want one or more of %s, or all", n, strings.Join(known, ", "))
		}
	}
	return out, nil
}

// Write writes a flight's files into a folder, making the folder where it is missing, and
// returns their paths in the order of the formats. Every file is first written whole
// under a temporary name and synced; only when all of them are there are they given
// their names. On an error before that none of the names changes.
func Write(dir string, f *Flight, formats []string) (paths []string, err error) {
	s, err := Stage(dir, f, formats)
	if err != nil {
		return nil, err
	}
	if paths, err = s.Commit(); err != nil {
		return paths, err
	}
	return paths, SyncFolder(dir)
}

// WriteFiles writes files as Write does, under one name with several endings.
func WriteFiles(dir, name string, files []File) (paths []string, err error) {
	s, err := StageFiles(dir, name, files)
	if err != nil {
		return nil, err
	}
	if paths, err = s.Commit(); err != nil {
		return paths, err
	}
	return paths, SyncFolder(dir)
}
