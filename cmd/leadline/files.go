package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// maxFile is the largest source that is read into memory.
const maxFile = 1 << 30

// inputFlags are the flags of verbs that read source files.
type inputFlags struct {
	recipe, record, sheet, settings, decisions string
	zone, date                                 string
	join                                       bool
}

func (f *inputFlags) add(c *cobra.Command) {
	flags := c.Flags()
	flags.StringVar(&f.recipe, "recipe", "", "recipe that says how to read the source: a file, or the name of a shipped one (default: found by content)")
	flags.StringVar(&f.record, "record", "", "launch record, TOML or JSON (default: NAME.launch.toml beside NAME.*)")
	flags.StringVar(&f.sheet, "sheet", "", "instrument sheet: a file, or the name of a shipped one (default: the one the launch record names)")
	flags.StringVar(&f.settings, "settings", "", "TOML file with settings that override the shipped ones")
	flags.StringVar(&f.date, "date", "", "day of the flight, YYYY-MM-DD, for sources that give times of day only")
	flags.StringVar(&f.zone, "zone", "", "time zone of the source's clock, such as America/Lima, instead of the recipe's")
	flags.BoolVar(&f.join, "join", false, "all files are sources of one flight")
}

// request reads the files behind the flags.
func (f *inputFlags) request() (workbench.Request, error) {
	q := workbench.Request{Join: f.join}
	var err error
	if f.recipe != "" {
		if q.Recipe, err = fileOrShipped(f.recipe, func(name string) ([]byte, error) { _, text, err := ingest.ShippedRecipe(name); return text, err }); err != nil {
			return q, fmt.Errorf("recipe: %w", err)
		}
	}
	if f.sheet != "" {
		if q.Sheet, err = fileOrShipped(f.sheet, func(name string) ([]byte, error) { _, text, err := sounding.ShippedSheet(name); return text, err }); err != nil {
			return q, fmt.Errorf("instrument sheet: %w", err)
		}
	}
	for _, part := range []struct {
		path string
		into *workbench.File
	}{{f.record, &q.Record}, {f.settings, &q.Settings}} {
		if part.path == "" {
			continue
		}
		if *part.into, err = readFile(part.path); err != nil {
			return q, err
		}
	}
	if f.decisions != "" {
		if q.Decisions, err = readDecisions(f.decisions); err != nil {
			return q, err
		}
	}
	if f.date != "" {
		if q.Options.Date, err = time.Parse(time.DateOnly, f.date); err != nil {
			return q, usageError{fmt.Errorf("--date %q: want a day such as 2031-06-03", f.date)}
		}
	}
	if f.zone != "" {
		if _, err := time.LoadLocation(f.zone); err != nil {
			return q, usageError{fmt.Errorf("--zone %q: want a name such as America/Lima", f.zone)}
		}
		q.Options.Zone = f.zone
	}
	return q, nil
}

// fileOrShipped reads a file, or what ships under that name where there is no such file.
func fileOrShipped(word string, shipped func(string) ([]byte, error)) (workbench.File, error) {
	f, err := readFile(word)
	if err == nil || !errors.Is(err, fs.ErrNotExist) || strings.ContainsAny(word, `/\`) {
		return f, err
	}
	text, shippedErr := shipped(word)
	if shippedErr != nil {
		return workbench.File{}, fmt.Errorf("there is no file %s, and %w", word, shippedErr)
	}
	return workbench.File{Name: word + ".toml", Bytes: text}, nil
}

func readFile(path string) (workbench.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return workbench.File{}, err
	}
	if info.IsDir() {
		return workbench.File{}, fmt.Errorf("%s is a folder, not a file", path)
	}
	if info.Size() > maxFile {
		return workbench.File{}, fmt.Errorf("%s has %d bytes, more than the 1 GiB a source may have", path, info.Size())
	}
	b, err := os.ReadFile(path)
	return workbench.File{Name: filepath.Base(path), Bytes: b}, err
}

// readDecisions reads a TOML file of [[decision]] tables or a JSON array.
func readDecisions(path string) ([]sounding.Decision, error) {
	f, err := readFile(path)
	if err != nil {
		return nil, err
	}
	var file struct {
		Decision []sounding.Decision `toml:"decision"`
	}
	if strings.HasSuffix(strings.ToLower(path), ".json") {
		reader := json.NewDecoder(bytes.NewReader(f.Bytes))
		reader.DisallowUnknownFields() // a misspelt span must not become a decision over everything
		if err := reader.Decode(&file.Decision); err != nil {
			return nil, fmt.Errorf("%s: %w: want an array of decisions, as export writes it", path, err)
		}
	} else if err := sounding.DecodeTOML(f.Name, f.Bytes, &file); err != nil {
		return nil, err
	}
	for i := range file.Decision {
		d := &file.Decision[i]
		if d.ID == "" {
			d.ID = fmt.Sprintf("d%d", i+1)
		}
		if err := d.Validate(); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	return file.Decision, nil
}

// flightFiles are the source files and the launch record of one flight, or of the
// flights one file holds.
type flightFiles struct {
	sources []string
	record  string
}

// isRecord tells whether a file is a launch record by its name.
func isRecord(name string) bool {
	lower := strings.ToLower(name)
	return strings.HasSuffix(lower, ".launch.toml") || strings.HasSuffix(lower, ".launch.json")
}

// stem is the part of a file's name that the files of one flight share: up to the
// first dot.
func stem(path string) string {
	name := filepath.Base(path)
	if i := strings.IndexByte(name, '.'); i > 0 {
		name = name[:i]
	}
	return filepath.Join(filepath.Dir(path), name)
}

// gather lists the flights behind files and folders: in a folder, files that share the
// part of their name before the first dot belong to one flight, and NAME.launch.toml is
// its launch record. Files named one by one stand for themselves; a launch record beside
// one is found.
func gather(args []string) ([]flightFiles, error) {
	var out []flightFiles
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			return nil, err
		}
		if !info.IsDir() {
			f := flightFiles{}
			if isRecord(arg) {
				f.record = arg
			} else {
				f.sources = []string{arg}
				for _, ending := range []string{".launch.toml", ".launch.json"} {
					if _, err := os.Stat(stem(arg) + ending); err == nil {
						f.record = stem(arg) + ending
						break
					}
				}
			}
			out = append(out, f)
			continue
		}
		groups := map[string]*flightFiles{}
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".") {
				return err
			}
			key := stem(path)
			g := groups[key]
			if g == nil {
				g = &flightFiles{}
				groups[key] = g
			}
			switch {
			case isRecord(d.Name()):
				g.record = path
			case strings.HasSuffix(d.Name(), ".toml") || strings.HasSuffix(d.Name(), ".md"):
				// a recipe, sheet or note that lies in the folder
			default:
				g.sources = append(g.sources, path)
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
		keys := make([]string, 0, len(groups))
		for k := range groups {
			keys = append(keys, k)
		}
		sort.Strings(keys)
		for _, k := range keys {
			if g := groups[k]; len(g.sources) > 0 || g.record != "" {
				out = append(out, *g)
			}
		}
	}
	return out, nil
}

// load reads one flight's files into a request of its own.
func (f flightFiles) load(q workbench.Request) ([]workbench.File, workbench.Request, error) {
	var files []workbench.File
	for _, path := range f.sources {
		file, err := readFile(path)
		if err != nil {
			return nil, q, err
		}
		files = append(files, file)
	}
	if len(q.Record.Bytes) == 0 && f.record != "" {
		record, err := readFile(f.record)
		if err != nil {
			return nil, q, err
		}
		q.Record = record
	}
	q.Join = q.Join || len(files) > 1
	return files, q, nil
}

// name is what messages call the flight's files.
func (f flightFiles) name() string {
	if len(f.sources) == 0 {
		return filepath.Base(f.record)
	}
	names := make([]string, len(f.sources))
	for i, s := range f.sources {
		names[i] = filepath.Base(s)
	}
	return strings.Join(names, " + ")
}
