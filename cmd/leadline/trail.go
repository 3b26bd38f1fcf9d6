package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func (p *program) trailCmd() *cobra.Command {
	var at string
	c := &cobra.Command{
		Use:   "trail FLIGHT VARIABLE --at WHERE",
		Short: "why a value is what it is: raw value, every step, flags, findings, decisions",
		Long: `trail follows one sample from the source bytes to its final value. WHERE is a time since
release ("1830s"), an instant ("2031-06-03T23:34:41Z" or "23:34:41"), a height ("9200m"), a pressure
("300hPa") or a source line ("line 1834").`,
		Example: `  leadline trail 3 humidity --at 9200m
  leadline trail 3 temperature --at 300hPa
  leadline trail 3 wind_speed --at "line 412" --json`,
		Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			v, err := sounding.ParseVariable(args[1])
			if err != nil {
				return usageError{fmt.Errorf("%w: want one of %s", err, variableNames())}
			}
			if at == "" {
				return usageError{errors.New("which sample? give --at, such as --at 9200m, 300hPa, 1830s or \"line 1834\"")}
			}
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			id, err := bench.Resolve(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			o, _, err := bench.Open(cmd.Context(), id)
			if err != nil {
				return err
			}
			t, err := place(o, at)
			if err != nil {
				return err
			}
			trail, ok := o.Trail(v, t)
			if !ok {
				return fmt.Errorf("flight %s has no %s in any stage", id, v)
			}
			if p.json {
				return p.printJSON(trail)
			}
			p.printTrail(trail)
			return nil
		},
	}
	c.Flags().StringVar(&at, "at", "", "the sample: time since release, instant, height, pressure or source line")
	return c
}

func variableNames() string {
	var names []string
	for _, v := range sounding.Variables() {
		if v.Info().Profile {
			names = append(names, v.String())
		}
	}
	return strings.Join(names, ", ")
}

// place returns the time since release that WHERE means; heights and pressures are
// looked for on the ascent.
func place(o *workbench.Outcome, where string) (float64, error) {
	f := o.Final
	w := strings.TrimSpace(where)
	number := func(suffix string) (float64, bool) {
		if !strings.HasSuffix(strings.ToLower(w), suffix) {
			return 0, false
		}
		x, err := strconv.ParseFloat(strings.TrimSpace(w[:len(w)-len(suffix)]), 64)
		return x, err == nil && !math.IsNaN(x)
	}
	if rest, ok := strings.CutPrefix(strings.ToLower(w), "line "); ok {
		n, err := strconv.Atoi(strings.TrimSpace(rest))
		if err != nil {
			return 0, usageError{fmt.Errorf("--at %q: want line and its number", where)}
		}
		for i, l := range f.Line {
			if int(l) == n {
				return f.Time[i], nil
			}
		}
		return 0, fmt.Errorf("no row of the flight stems from line %d", n)
	}
	if x, ok := number("hpa"); ok {
		return nearestOnAscent(f, sounding.Pressure, x)
	}
	if x, ok := number("km"); ok {
		return nearestOnAscent(f, sounding.HeightMSL, x*1000)
	}
	if x, ok := number("m"); ok {
		return nearestOnAscent(f, sounding.HeightMSL, x)
	}
	if x, ok := number("s"); ok {
		return x, nil
	}
	if t, err := time.Parse(time.RFC3339Nano, w); err == nil {
		return t.Sub(f.Epoch).Seconds(), nil
	}
	for _, layout := range []string{"15:04:05.999", "15:04:05", "15:04"} {
		if t, err := time.Parse(layout, w); err == nil {
			day := f.Epoch.UTC().Truncate(24 * time.Hour)
			at := day.Add(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute + time.Duration(t.Second())*time.Second + time.Duration(t.Nanosecond()))
			if at.Sub(f.Epoch) < -12*time.Hour {
				at = at.Add(24 * time.Hour) // after midnight
			}
			return at.Sub(f.Epoch).Seconds(), nil
		}
	}
	return 0, usageError{fmt.Errorf("--at %q: want 1830s, 23:34:41, 2031-06-03T23:34:41Z, 9200m, 300hPa or \"line 1834\"", where)}
}

func nearestOnAscent(f *sounding.Final, v sounding.Variable, x float64) (float64, error) {
	values := f.Values(v)
	if values == nil && v == sounding.HeightMSL {
		values = f.Values(sounding.GeopotentialHeight)
	}
	best := -1
	span := f.Events.Ascent()
	for i := span.From; i < span.To && values != nil; i++ {
		if !math.IsNaN(values[i]) && (best < 0 || math.Abs(values[i]-x) < math.Abs(values[best]-x)) {
			best = i
		}
	}
	if best < 0 {
		return 0, errors.New("the ascent has no " + v.String() + ": name a time or a line")
	}
	return f.Time[best], nil
}

func (p *program) printTrail(t workbench.Trail) {
	fmt.Fprintf(p.out, "%s at %s, %s s since release, %s m\n", t.Variable, t.UTC, figure(t.Time, 1), figure(t.Height, 0))
	fmt.Fprintf(p.out, "source %s line %d (SHA-256 %s)\n\n", plain(t.Source), t.Line, t.SHA256)
	rows := [][]string{{"raw", figure(t.Raw, 4), "", "", t.RawFlag.String(), "as the source says"}}
	if !t.Raw.Set() {
		rows[0][4], rows[0][5] = "", "not in the source, or missing there"
	}
	for _, e := range t.Entries {
		change := figure(e.Change, 4)
		if e.Change.Set() && e.Change > 0 {
			change = "+" + change
		}
		rows = append(rows, []string{e.Method, figure(e.Value, 4), change, figure(e.U, 4), string(e.Kind), plain(e.Note)})
	}
	rows = append(rows, []string{"final", figure(t.Final, 4), "", figure(t.Total, 4), t.FlagWord, fmt.Sprintf("independent part %s, common part %s", figure(t.Independent, 4), figure(t.Common, 4))})
	table(p.out, []string{"step", ">" + t.Unit, ">change", ">± (k=1)", "", "what"}, rows)
	fmt.Fprintln(p.out)
	if len(t.Tests) > 0 {
		fmt.Fprintf(p.out, "fired:   %s\n", strings.Join(t.Tests, ", "))
	}
	if len(t.Passed) > 0 {
		fmt.Fprintf(p.out, "passed:  %s\n", wrap(strings.Join(t.Passed, ", "), 88, "         "))
	}
	for _, n := range t.NotRun {
		fmt.Fprintf(p.out, "not run: %s: %s\n", n.Check, plain(n.Why))
	}
	for _, f := range t.Findings {
		fmt.Fprintf(p.out, "finding: %s, %s: %s\n", f.Severity, f.Check, wrap(plain(f.Sentence), 88, "         "))
	}
	for _, d := range t.Decisions {
		fmt.Fprintf(p.out, "decision %s: %s by %s: %s\n", d.ID, d.Action, plain(d.Who), plain(d.Reason))
	}
	fmt.Fprintf(p.out, "method set %s\n", t.MethodSet)
}
