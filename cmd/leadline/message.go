package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/export"
	"leadline/internal/ingest"
	"leadline/internal/message"
	"leadline/internal/temp"
	"leadline/internal/units"
	"leadline/internal/workbench"
)

func (p *program) messageCmd() *cobra.Command {
	c := &cobra.Command{
		Use:   "message",
		Short: "the open upper-air codes: write FM 94 BUFR, FM 35 TEMP and FM 32 PILOT, show messages and bulletins",
		Long: `message writes final flights as FM 94 BUFR messages, FM 35 TEMP or FM 32 PILOT bulletins, and shows
any upper-air message or bulletin as soundings or element by element. add and check read them as sources.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(p.messageEncodeCmd(), p.messageDecodeCmd(), p.messageInspectCmd())
	return c
}

func (p *program) messageEncodeCmd() *cobra.Command {
	var in inputFlags
	var template, upto, every, heading, wind, out string
	var ground float64
	o := message.Options{Software: software()}
	var names []string
	for _, t := range message.Templates {
		names = append(names, string(t))
	}
	c := &cobra.Command{
		Use:   "encode FLIGHT|FILE",
		Short: "write a flight as a BUFR message, or a TEMP or PILOT bulletin",
		Long: `encode writes one flight as one message. Levels, significance and missing data are the flight's own;
identification, instrument figures and release items come from the launch record and the instrument
sheet, and what neither gives is missing in the message and named.

TEMP, TEMP SHIP or TEMP MOBIL, and PILOT, PILOT SHIP or PILOT MOBIL, are chosen by the kind of site.
PILOT is the wind alone, for a flight without temperatures too; TEMP DROP is read and not written.`,
		Example: `  leadline message encode 3 --template 309057 --every 2s
  leadline message encode 3 --upto 100hPa --heading "IUSX01 LAKE"
  leadline message encode flight.txt --template temp --out -
  leadline message encode 3 --template pilot --by altitude --fixed-altitudes 500 --wind kt
  leadline message encode 3 --template 309056 --correction 1`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if o.Template, err = message.ParseTemplate(template); err != nil {
				return usageError{err}
			}
			if upto != "" {
				if o.Upto, err = units.Parse(upto, "pressure", "hPa"); err != nil {
					return usageError{fmt.Errorf("--upto %q: %w", upto, err)}
				}
			}
			if every != "" {
				d, err := time.ParseDuration(every)
				if err != nil {
					d, err = time.ParseDuration(every + "s")
				}
				if err != nil || d < 0 {
					return usageError{fmt.Errorf("--every %q: want a spacing such as 2s, or 0 for standard and significant levels only", every)}
				}
				o.Every = d.Seconds()
			}
			if heading != "" {
				words := strings.Fields(heading)
				if len(words) != 2 {
					return usageError{fmt.Errorf("--heading %q: want designator and centre, such as \"IUSX01 LAKE\"; day and time are filled in", heading)}
				}
				o.Heading = &temp.Heading{Designator: words[0], Centre: words[1]}
			}
			switch wind {
			case "m/s":
				o.WindUnit = temp.MetersASecond
			case "kt":
				o.WindUnit = temp.Knots
			default:
				return usageError{fmt.Errorf("--wind %q: want m/s or kt", wind)}
			}
			if o.Template != message.PILOT && (cmd.Flags().Changed("by") || cmd.Flags().Changed("fixed-altitudes")) {
				return usageError{errors.New("--by and --fixed-altitudes are for --template pilot")}
			}
			if err := o.Validate(); err != nil {
				return usageError{err}
			}
			if cmd.Flags().Changed("ground-height") {
				o.GroundHeight = &ground
			}
			flight, err := p.oneOutcome(cmd, args[0], &in)
			if err != nil {
				return err
			}
			o.Settings = &flight.Settings.Levels
			m, err := message.Encode(flight.Final, flight.Levels, o)
			if err != nil {
				return err
			}
			return p.writeMessage(m, out)
		},
	}
	in.add(c)
	flags := c.Flags()
	flags.StringVar(&template, "template", "309057", "what to write: "+strings.Join(names, ", "))
	flags.StringVar(&upto, "upto", "", "report up to this pressure only: 100hPa for the report that is due when it is reached")
	flags.StringVar(&every, "every", "2s", "spacing of levels between the significant ones; 0 for standard and significant levels only")
	flags.IntVar(&o.Correction, "correction", 0, "number of the correction, 0 for the first version")
	flags.StringVar(&heading, "heading", "", "designator and centre of the bulletin heading, such as \"IUSX01 LAKE\"")
	flags.IntVar(&o.Centre, "centre", 0, "originating centre, figure of common code table C-11")
	flags.IntVar(&o.SubCentre, "sub-centre", 0, "originating sub-centre, figure of common code table C-12")
	flags.Float64Var(&ground, "ground-height", 0, "height of the station's ground above mean sea level, m")
	flags.IntVar(&o.Ascension, "ascension", 0, "running number of the ascent")
	flags.IntVar(&o.Release, "release", 0, "which release within the period")
	flags.StringVar(&wind, "wind", "m/s", "unit of the wind in TEMP and PILOT: m/s or kt")
	flags.StringVar(&o.Vertical, "by", "", "PILOT: significant and maximum winds by pressure or altitude (default: pressure where the flight has one)")
	flags.IntVar(&o.FixedAltitudes, "fixed-altitudes", 0, "PILOT: winds at regional altitudes too, in steps of 300 or 500 m; 0 for none")
	flags.StringVar(&out, "out", "", "file or folder to write to, - for standard output (default: the working folder)")
	return c
}

// writeMessage puts a message where it belongs: under its own name, or the one given.
func (p *program) writeMessage(m message.Encoded, out string) error {
	for _, f := range m.Findings {
		fmt.Fprintf(p.err, "%s: %s\n", f.Severity, plain(f.Sentence))
	}
	if out == "-" {
		_, err := p.out.Write(m.Bytes)
		return err
	}
	dir, name := out, m.FileName
	if info, err := os.Stat(out); out != "" && (err != nil || !info.IsDir()) && !strings.HasSuffix(out, string(os.PathSeparator)) {
		dir, name = filepath.Split(out)
	}
	if dir == "" {
		dir = "."
	}
	ending := filepath.Ext(name)
	paths, err := export.WriteFiles(dir, strings.TrimSuffix(name, ending), []export.File{{Ending: ending, Write: func(w io.Writer) error {
		_, err := w.Write(m.Bytes)
		return err
	}}})
	if err != nil {
		return err
	}
	if p.json {
		return p.printJSON(map[string]any{"file": paths[0], "bytes": len(m.Bytes), "levels": m.Levels, "maximum_winds": m.MaximumWinds, "nominal_utc": m.Nominal, "findings": m.Findings})
	}
	fmt.Fprintf(p.out, "%s: %d bytes, %d levels, %d maximum winds\n", paths[0], len(m.Bytes), m.Levels, m.MaximumWinds)
	return nil
}

// software is the program's name and version in the 12 characters a message has for it.
func software() string {
	version := strings.SplitN(workbench.Version, ".", 3)
	return "leadline " + strings.Join(version[:min(2, len(version))], ".")
}

// errNotWhole says that something of a source could not be read; the rest was printed.
var errNotWhole = errors.New("not everything could be read")

func (p *program) messageDecodeCmd() *cobra.Command {
	var date string
	c := &cobra.Command{
		Use:   "decode FILE",
		Short: "show messages and bulletins as soundings: headings, stations, levels",
		Example: `  leadline message decode report.bufr
  leadline message decode bulletin.txt --date 2026-01-14
  leadline message decode - --json <report.bufr`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			var o ingest.Options
			if date != "" {
				var err error
				if o.Date, err = time.Parse(time.DateOnly, date); err != nil {
					return usageError{fmt.Errorf("--date %q: want a day such as 2031-06-03", date)}
				}
			}
			fewerCollections()
			r, name, err := p.input(args[0])
			if err != nil {
				return err
			}
			defer r.Close()
			counts, err := message.Decode(cmd.Context(), p.out, name, r, p.json, o)
			if err != nil {
				return err
			}
			for _, f := range counts.Findings {
				fmt.Fprintf(p.err, "%s: %s\n", f.Severity, plain(f.Sentence))
			}
			if counts.Soundings == 0 {
				return fmt.Errorf("%s holds no upper-air report that can be read", name)
			}
			return nil
		},
	}
	c.Flags().StringVar(&date, "date", "", "a day near that of bulletins, which give the day of the month only")
	return c
}

func (p *program) messageInspectCmd() *cobra.Command {
	var full bool
	c := &cobra.Command{
		Use:   "inspect FILE",
		Short: "print BUFR messages element by element: names, units, bits, values",
		Example: `  leadline message inspect report.bufr
  leadline message inspect report.bufr --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			fewerCollections()
			r, name, err := p.input(args[0])
			if err != nil {
				return err
			}
			defer r.Close()
			n, problems, err := message.Inspect(cmd.Context(), p.out, r, p.json, full)
			if err != nil {
				return err
			}
			for _, s := range problems {
				fmt.Fprintln(p.err, plain(s))
			}
			switch {
			case n == 0:
				return fmt.Errorf("%s holds no BUFR message that can be read", name)
			case len(problems) > 0:
				return fmt.Errorf("%s: %w", name, errNotWhole)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&full, "full", false, "repeat bits and names on every line")
	return c
}

// sized is a file that tells its length, so that it can be read at once.
type sized struct {
	*os.File
	size int
}

func (s sized) Len() int { return s.size }

// fewerCollections lets a short-lived process collect its garbage less often.
func fewerCollections() { debug.SetGCPercent(400) }

// input opens a file, or standard input for -.
func (p *program) input(path string) (io.ReadCloser, string, error) {
	if path == "-" {
		return io.NopCloser(bufio.NewReader(p.in)), "standard input", nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, "", err
	}
	info, err := f.Stat()
	switch {
	case err == nil && info.IsDir():
		f.Close()
		return nil, "", fmt.Errorf("%s is a folder, not a file", path)
	case err == nil && info.Mode().IsRegular():
		return sized{f, int(info.Size())}, filepath.Base(path), nil
	}
	return f, filepath.Base(path), nil
}
