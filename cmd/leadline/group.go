package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/units"
	"leadline/internal/workbench"
)

func (p *program) groupCmd() *cobra.Command {
	c := &cobra.Command{
		Use:   "group",
		Short: "one decision for many flights: its effect on each first, stored and taken back as one",
		Long: `group rules on many flights at once: a launch-record item that was typed wrong once, an
instrument sheet that was wrong from the start, spans of one kind. The effect on each flight is
computed by the same path and listed; nothing is stored without --store. Then the decision is
stored for every flight it changes, for all of them or for none, under one number, and can be
taken back as one. Each flight's part can be taken back alone: decide FLIGHT revoke.`,
		Example: `  leadline group correct-record --site Reedwater --field site.height_m_msl --value "641.2 m"
  leadline group correct-record --site Heron --field surface.pressure_hpa --shift "+0.4 hPa" \
      --store --reason "barometer read low, calibration of 2030" --who "A. Reviewer"
  leadline group choose-sheet --flights 3,7-12 --sheet twin-humidity
  leadline group exclude --all --check spike --about temperature
  leadline group list
  leadline group revoke g1 --store --reason "the survey was right"`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(p.groupCorrectCmd(), p.groupSheetCmd(), p.groupSpansCmd(sounding.ActExclude), p.groupSpansCmd(sounding.ActFlag), p.groupListCmd(), p.groupShowCmd(), p.groupRevokeCmd())
	return c
}

// chosen says which flights a group is about.
type chosen struct {
	flights, site, sheet, state, verdict, search, from, to string
	without                                                string
	all                                                    bool
}

func (s *chosen) add(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&s.flights, "flights", "", "flights by number or name, such as 3,7-12,north-pier-20310603T2304")
	f.StringVar(&s.site, "site", "", "flights of this site")
	f.StringVar(&s.sheet, "with-sheet", "", "flights with this instrument sheet in force")
	f.StringVar(&s.from, "from", "", "flights from this nominal hour on: 2031-06-03 or 2031-06-03T12:00Z (the release where there is none)")
	f.StringVar(&s.to, "to", "", "flights up to this nominal hour, or day, with it")
	f.StringVar(&s.state, "state", "", "flights in this state: "+strings.Join(sounding.States, "; "))
	f.StringVar(&s.verdict, "verdict", "", "flights with this verdict: accept, look or refuse")
	f.StringVar(&s.search, "search", "", "flights whose name, site, serial number, verdict line or source holds this text")
	f.BoolVar(&s.all, "all", false, "every flight of the logbook")
	f.StringVar(&s.without, "without", "", "but not these, by number or name")
}

// of returns the rows that were chosen, in the order of their numbers.
func (s *chosen) of(rows []workbench.Row) ([]workbench.Row, error) {
	if !s.all && s.flights+s.site+s.sheet+s.from+s.to+s.state+s.verdict+s.search == "" {
		return nil, usageError{errors.New("which flights? give --flights, --site, --with-sheet, --from, --to, --state, --verdict, --search, or --all")}
	}
	if s.state != "" && !slices.Contains(sounding.States, s.state) {
		return nil, usageError{fmt.Errorf("--state %q: want one of %s", s.state, strings.Join(sounding.States, "; "))}
	}
	switch s.verdict {
	case "", sounding.Accept, sounding.Look, sounding.Refuse:
	default:
		return nil, usageError{fmt.Errorf("--verdict %q: want accept, look or refuse", s.verdict)}
	}
	from, _, err := hour(s.from, "--from")
	if err != nil {
		return nil, err
	}
	_, to, err := hour(s.to, "--to")
	if err != nil {
		return nil, err
	}
	named, err := flightList(s.flights, rows)
	if err != nil {
		return nil, err
	}
	left, err := flightList(s.without, rows)
	if err != nil {
		return nil, err
	}
	var out []workbench.Row
	for _, r := range rows {
		at := r.Nominal
		if at.IsZero() {
			at = r.Release
		}
		switch {
		case named != nil && !named[r.ID], left[r.ID],
			s.site != "" && !strings.EqualFold(s.site, r.Site), s.sheet != "" && s.sheet != r.Sheet,
			s.state != "" && s.state != r.State, s.verdict != "" && s.verdict != r.Verdict,
			!from.IsZero() && at.Before(from), !to.IsZero() && (at.IsZero() || !at.Before(to)),
			s.search != "" && !strings.Contains(strings.ToLower(r.Name+" "+r.Site+" "+r.Serial+" "+r.Line+" "+strings.Join(r.Sources, " ")), strings.ToLower(s.search)):
			continue
		}
		out = append(out, r)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no flight of the %d in the logbook fits", len(rows))
	}
	slices.SortFunc(out, func(a, b workbench.Row) int { return numberOf(a.ID) - numberOf(b.ID) })
	return out, nil
}

func numberOf(id string) int {
	n, _ := strconv.Atoi(id)
	return n
}

// hour reads a day or an instant; end is the first instant that is not in it any more.
func hour(word, flag string) (begin, end time.Time, err error) {
	if word == "" {
		return begin, end, nil
	}
	if t, err := time.Parse(time.DateOnly, word); err == nil {
		return t, t.AddDate(0, 0, 1), nil
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02T15Z07:00", "2006-01-02T15"} {
		if t, err := time.Parse(layout, word); err == nil {
			return t.UTC(), t.UTC().Add(time.Nanosecond), nil
		}
	}
	return begin, end, usageError{fmt.Errorf("%s %q: want a day such as 2031-06-03, or an hour such as 2031-06-03T12:00Z", flag, word)}
}

// flightList reads "3,7-12,name"; nil where nothing was given.
func flightList(text string, rows []workbench.Row) (map[string]bool, error) {
	if text == "" {
		return nil, nil
	}
	ids, names := map[string]bool{}, map[string][]string{}
	for _, r := range rows {
		ids[r.ID] = true
		names[r.Name] = append(names[r.Name], r.ID)
	}
	out := map[string]bool{}
	for _, word := range strings.Split(text, ",") {
		word = strings.TrimSpace(word)
		if low, high, ok := strings.Cut(word, "-"); ok {
			a, errA := strconv.Atoi(low)
			b, errB := strconv.Atoi(high)
			if errA == nil && errB == nil {
				if a > b {
					return nil, usageError{fmt.Errorf("%q: the first number is the larger one", word)}
				}
				found := false
				for id := range ids {
					if n := numberOf(id); n >= a && n <= b {
						out[id], found = true, true
					}
				}
				if !found {
					return nil, fmt.Errorf("the logbook has no flight from %d to %d", a, b)
				}
				continue
			}
		}
		switch {
		case ids[word]:
			out[word] = true
		case len(names[word]) > 0:
			for _, id := range names[word] {
				out[id] = true
			}
		default:
			return nil, fmt.Errorf("%q: %w: leadline list shows the %d it holds", word, workbench.ErrNoFlight, len(rows))
		}
	}
	return out, nil
}

// storing are the flags that store what was listed.
type storing struct {
	store       bool
	reason, who string
	seen        string
}

func (s *storing) add(c *cobra.Command) {
	f := c.Flags()
	f.BoolVar(&s.store, "store", false, "store it; without this the effects are listed and nothing is stored")
	f.StringVar(&s.reason, "reason", "", "why")
	f.StringVar(&s.who, "who", "", "who decides (default: $LEADLINE_WHO)")
	f.StringVar(&s.seen, "seen", "", "effects you looked at, as --json listed them: store for these flights, and only if none has moved on since")
}

// complete fills in the name and refuses to store without name or reason.
func (s *storing) complete() error {
	if s.who == "" {
		s.who = os.Getenv("LEADLINE_WHO")
	}
	switch {
	case s.seen != "" && !s.store:
		return usageError{errors.New("--seen is for --store")}
	case !s.store:
		return nil
	case s.reason == "":
		return usageError{errors.New("why? give --reason")}
	case s.who == "":
		return usageError{errors.New("who decides? give --who or set LEADLINE_WHO")}
	}
	return nil
}

func (p *program) groupCorrectCmd() *cobra.Command {
	var q workbench.Proposal
	var s chosen
	var st storing
	var shift string
	c := &cobra.Command{
		Use:   "correct-record",
		Short: "correct an item of the launch record on many flights",
		Long: `correct-record gives an item of the launch record one value on many flights, or shifts what each
flight has by one amount: a barometer that read 0.4 hPa low, hours of local time.`,
		Example: `  leadline group correct-record --site Reedwater --field site.height_m_msl --value "641.2 m"
  leadline group correct-record --site Heron --field surface.pressure_hpa --shift "+0.4 hPa"
  leadline group correct-record --flights 19 --field ground_check.time_utc --shift "+3 h"`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			q.Action = sounding.ActCorrectRecord
			if shift != "" {
				if q.Value != "" {
					return usageError{errors.New("--value gives one value to all, --shift moves what each has: give one of them")}
				}
				q.Value, q.Shifted = shift, true
			}
			return p.group(cmd.Context(), q, &s, &st)
		},
	}
	c.Flags().StringVar(&q.Field, "field", "", "item of the launch record, such as site.height_m_msl")
	c.Flags().StringVar(&q.Value, "value", "", "its new value, with its unit; none where it is not known")
	c.Flags().StringVar(&shift, "shift", "", "instead of --value: amount with sign and unit, added to what each flight has")
	s.add(c)
	st.add(c)
	return c
}

func (p *program) groupSheetCmd() *cobra.Command {
	var s chosen
	var st storing
	var sheet string
	c := &cobra.Command{
		Use:   "choose-sheet",
		Short: "choose another instrument sheet for many flights; the one given is kept",
		Example: `  leadline group choose-sheet --with-sheet single-humidity --from 2026-01-18 --sheet twin-humidity
  leadline group choose-sheet --flights 3,7-12 --sheet own.toml --store --reason "new calibration"`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if sheet == "" {
				return usageError{errors.New("which sheet? give --sheet with a file, or the name of a shipped one: " + strings.Join(sounding.ShippedSheets(), ", "))}
			}
			f, err := fileOrShipped(sheet, func(name string) ([]byte, error) { _, text, err := sounding.ShippedSheet(name); return text, err })
			if err != nil {
				return fmt.Errorf("instrument sheet: %w", err)
			}
			q := workbench.Proposal{Action: sounding.ActChooseSheet, Sheet: workbench.SheetChoice{Name: f.Name, Text: string(f.Bytes)}}
			return p.group(cmd.Context(), q, &s, &st)
		},
	}
	c.Flags().StringVar(&sheet, "sheet", "", "instrument sheet: a file, or the name of a shipped one")
	s.add(c)
	st.add(c)
	return c
}

func (p *program) groupSpansCmd(action sounding.Action) *cobra.Command {
	var s chosen
	var st storing
	var check, about, severity, variables, value string
	var where []string
	short := "exclude a kind of span on many flights"
	example := `  leadline group exclude --all --check icing --about humidity --severity bad
  leadline group exclude --site Reedwater --variable humidity --where pressure=..100hPa`
	if action == sounding.ActFlag {
		short = "set a kind of span questionable, or bad, on many flights"
		example = `  leadline group flag --value questionable --all --variable wind --where time=0s..60s`
	}
	c := &cobra.Command{
		Use:   string(action),
		Short: short,
		Long: short + `.

The kind is named by the check that found the spans (--check), the variable it is about
(--about) and its least severity, or by ranges (--where), or by both: what lies in all of them.
A range is QUANTITY=FROM..TO, either end may be left out: pressure, height, time (since release),
or any variable, such as temperature=..-40C. What the kind is on a flight is settled when its
effect is computed: each flight's decision lists its spans. What is bad stays bad.`,
		Example: example,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			q := workbench.Proposal{Action: action, Value: value}
			k := &q.Kind
			k.Check = check
			if err := k.Severity.UnmarshalText([]byte(severity)); err != nil {
				return usageError{fmt.Errorf("--severity: %w", err)}
			}
			if check != "" {
				if _, err := quality.ParseCheck(check); err != nil {
					return usageError{fmt.Errorf("--check: %w", err)}
				}
			}
			var err error
			if about != "" {
				list, err := ruledVariables(about)
				if err != nil {
					return err
				}
				k.About = list[0]
			}
			if k.Variables, err = ruledVariables(variables); err != nil {
				return err
			}
			for _, w := range where {
				r, err := rangeOf(w)
				if err != nil {
					return err
				}
				k.Where = append(k.Where, r)
			}
			return p.group(cmd.Context(), q, &s, &st)
		},
	}
	f := c.Flags()
	f.StringVar(&check, "check", "", "spans of findings of this check")
	f.StringVar(&about, "about", "", "spans of findings about this variable")
	f.StringVar(&severity, "severity", "questionable", "findings of at least this severity: note, questionable or bad")
	f.StringVar(&variables, "variable", "", "variables to rule on, separated by commas (default: those the findings are about)")
	f.StringArrayVar(&where, "where", nil, "only where a quantity lies in a `range`, such as pressure=300hPa..100hPa; may be given several times")
	if action == sounding.ActFlag {
		f.StringVar(&value, "value", "questionable", "questionable or bad")
	}
	s.add(c)
	st.add(c)
	return c
}

// ruledVariables reads variables separated by commas; wind means all of the wind.
func ruledVariables(text string) ([]sounding.Variable, error) {
	var out []sounding.Variable
	for _, name := range strings.Split(text, ",") {
		name = strings.TrimSpace(name)
		switch name {
		case "":
			continue
		case "wind":
			name = sounding.WindSpeed.String()
		}
		v, err := sounding.ParseVariable(name)
		if err != nil || v == sounding.NoVariable {
			return nil, usageError{fmt.Errorf("%q is no variable: want one of %s, wind", name, variableNames())}
		}
		out = append(out, v)
	}
	return out, nil
}

// rangeOf reads "pressure=300hPa..100hPa".
func rangeOf(text string) (workbench.Range, error) {
	r := workbench.Range{From: sounding.NotSet, To: sounding.NotSet}
	bad := func(why string) (workbench.Range, error) {
		return r, usageError{fmt.Errorf("--where %q: %s: want QUANTITY=FROM..TO, such as pressure=300hPa..100hPa, height=6200m.. or time=0s..60s", text, why)}
	}
	of, ends, ok := strings.Cut(text, "=")
	if !ok {
		return bad("it has no =")
	}
	dimension, unit := "", ""
	switch of = strings.TrimSpace(of); of {
	case "time":
		r.Of, dimension, unit = of, units.Time, "s"
	case "height":
		of = sounding.HeightMSL.String()
		fallthrough
	default:
		v, err := sounding.ParseVariable(of)
		if err != nil || v == sounding.NoVariable {
			return bad(fmt.Sprintf("%q is no quantity", of))
		}
		r.Of, dimension, unit = of, v.Info().Dimension, v.Info().Unit
	}
	from, to, ok := strings.Cut(ends, "..")
	if !ok {
		return bad("it has no ..")
	}
	for _, end := range []struct {
		text string
		into *sounding.Number
	}{{from, &r.From}, {to, &r.To}} {
		word := strings.TrimSpace(end.text)
		if word == "" {
			continue
		}
		x, err := strconv.ParseFloat(word, 64)
		if err == nil && dimension == units.Temperature {
			return bad("give the unit, C or K")
		}
		if err != nil {
			if x, err = units.Parse(word, dimension, unit); err != nil {
				return bad(err.Error())
			}
		}
		*end.into = sounding.Number(x)
	}
	if !r.From.Set() && !r.To.Set() {
		return bad("it has no end")
	}
	return r, nil
}

// group lists the effects of a proposal on the flights chosen and, where asked to, stores it.
func (p *program) group(ctx context.Context, q workbench.Proposal, s *chosen, st *storing) error {
	if err := st.complete(); err != nil {
		return err
	}
	q.Reason, q.Who = st.reason, st.who
	bench, closeStore, err := p.open()
	if err != nil {
		return err
	}
	defer closeStore()
	if st.seen != "" {
		seen, err := readSeen(st.seen, changing)
		if err != nil {
			return err
		}
		if s.without != "" {
			rows, err := bench.Rows(ctx)
			if err != nil {
				return err
			}
			left, err := flightList(s.without, rows)
			if err != nil {
				return err
			}
			seen = slices.DeleteFunc(seen, func(x workbench.Seen) bool { return left[x.Flight] })
		}
		return p.storeGroup(ctx, bench, q, seen)
	}
	rows, err := bench.Rows(ctx)
	if err != nil {
		return err
	}
	if rows, err = s.of(rows); err != nil {
		return err
	}
	ids := make([]string, len(rows))
	for i, r := range rows {
		ids[i] = r.ID
	}
	effects, err := p.listed(len(ids), func(each func(workbench.Effect) error) error { return bench.PreviewGroup(ctx, q, ids, each) })
	if err != nil {
		return err
	}
	if !st.store {
		if p.json {
			return p.printJSON(effects)
		}
		p.printEffects(effects)
		fmt.Fprintln(p.out, "nothing is stored; with --store and --reason it is, for the flights that change")
		return nil
	}
	if !p.json {
		p.printEffects(effects)
	}
	return p.storeGroup(ctx, bench, q, changing(effects))
}

// listed computes effects with a progress bar.
func (p *program) listed(n int, run func(each func(workbench.Effect) error) error) ([]workbench.Effect, error) {
	bar := p.newProgress(n)
	effects := []workbench.Effect{}
	err := run(func(e workbench.Effect) error {
		effects = append(effects, e)
		bar.step(e.Name)
		return nil
	})
	return effects, refusal(err)
}

// refusal makes what the user can mend a usage error.
func refusal(err error) error {
	var refused *workbench.RefusedError
	if errors.As(err, &refused) {
		return usageError{err}
	}
	return err
}

func changing(effects []workbench.Effect) []workbench.Seen {
	var out []workbench.Seen
	for _, e := range effects {
		if e.Word == workbench.EffectChanges {
			out = append(out, workbench.Seen{Flight: e.Flight, Revision: e.Revision})
		}
	}
	return out
}

// applicable are the flights on which a group can be taken back, whether that changes anything or not.
func applicable(effects []workbench.Effect) []workbench.Seen {
	var out []workbench.Seen
	for _, e := range effects {
		if e.Word != workbench.EffectCannot {
			out = append(out, workbench.Seen{Flight: e.Flight, Revision: e.Revision})
		}
	}
	return out
}

// readSeen reads effects that --json listed and returns the flights of it that of picks.
func readSeen(path string, of func([]workbench.Effect) []workbench.Seen) ([]workbench.Seen, error) {
	f, err := readFile(path)
	if err != nil {
		return nil, err
	}
	var effects []workbench.Effect
	if err := json.Unmarshal(f.Bytes, &effects); err != nil {
		return nil, fmt.Errorf("%s: %w: want the effects as --json lists them", path, err)
	}
	return of(effects), nil
}

func (p *program) storeGroup(ctx context.Context, bench *workbench.Bench, q workbench.Proposal, seen []workbench.Seen) error {
	if len(seen) == 0 {
		return errors.New("nothing was stored: no flight would change")
	}
	bar := p.newProgress(len(seen))
	g, err := bench.StoreGroup(ctx, q, seen, func(int) { bar.step("stored together at the end") })
	return p.storedGroup(ctx, bench, g, err, "stored")
}

// storedGroup says what was stored; a verdict of its flights that is not accept makes exit code 3.
func (p *program) storedGroup(ctx context.Context, bench *workbench.Bench, g workbench.Group, err error, done string) error {
	var refused *workbench.GroupError
	if errors.As(err, &refused) {
		if p.json {
			if err := p.printJSON(map[string]any{"refused": refused.Flights}); err != nil {
				return err
			}
		}
		for _, f := range refused.Flights {
			fmt.Fprintf(p.err, "%s\n", plain(f.Why))
		}
		n := len(refused.Flights)
		return fmt.Errorf("nothing was %s: %d %s against it; leave %s out with --without, or look again", done, n, map[bool]string{true: "flight stands", false: "flights stand"}[n == 1], map[bool]string{true: "it", false: "them"}[n == 1])
	}
	if err != nil {
		return refusal(err)
	}
	now, all := g.InForce()
	if p.json {
		if err := p.printJSON(g); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(p.out, "%s %s: in force on %d of %d %s\n", g.ID, done, now, all, plural(all, "flight"))
	}
	rows, err := bench.Rows(ctx)
	if err != nil {
		return err
	}
	in := map[string]bool{}
	for _, x := range g.Parts {
		in[x.Flight] = true
	}
	for _, r := range rows {
		if in[r.ID] && r.Verdict != sounding.Accept {
			return notAccepted{}
		}
	}
	return nil
}

// printEffects prints one line a flight, and a sum.
func (p *program) printEffects(effects []workbench.Effect) {
	var cells [][]string
	count := map[string]int{}
	for _, e := range effects {
		count[e.Word]++
		verdict := shape(e.Verdict[0]) + " " + e.Verdict[0]
		if e.Verdict[1] != e.Verdict[0] {
			verdict += " → " + shape(e.Verdict[1]) + " " + e.Verdict[1]
		}
		if e.Name == "" {
			verdict = "–"
		}
		cells = append(cells, []string{e.Flight, plain(e.Name), verdict, plain(effectWords(e))})
	}
	table(p.out, []string{">no", "flight", "verdict", "effect"}, cells)
	fmt.Fprintf(p.out, "%d of %d %s would change", count[workbench.EffectChanges], len(effects), plural(len(effects), "flight"))
	if n := count[workbench.EffectNone]; n > 0 {
		fmt.Fprintf(p.out, ", %d without effect", n)
	}
	if n := count[workbench.EffectCannot]; n > 0 {
		fmt.Fprintf(p.out, ", %d where it cannot be applied", n)
	}
	fmt.Fprintln(p.out)
}

// effectWords says in one line what changes on a flight.
func effectWords(e workbench.Effect) string {
	switch e.Word {
	case workbench.EffectCannot:
		return "cannot be applied: " + e.Why
	case workbench.EffectNone:
		if e.Samples > 0 {
			return fmt.Sprintf("no effect: its %d %s of this kind %s withheld already", e.Samples, plural(e.Samples, "sample"), map[bool]string{true: "is", false: "are"}[e.Samples == 1])
		}
		return "no effect"
	}
	var parts []string
	if i := e.Item; i != nil {
		from, to := i.Before, i.After
		if from == "" {
			from = "not given"
		}
		if to == "" {
			to = "not given"
		}
		parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s → %s %s", i.Label, from, to, i.Unit)))
	}
	if s := e.Sheet; s != nil {
		from := s[0]
		if from == "" {
			from = "no sheet"
		}
		parts = append(parts, from+" → "+s[1])
	}
	if e.Spans > 0 && e.Samples > 0 {
		parts = append(parts, fmt.Sprintf("%d %s in %d %s", e.Samples, plural(e.Samples, "sample"), e.Spans, plural(e.Spans, "span")))
	}
	if e.Release.Set() && e.Release != 0 {
		parts = append(parts, fmt.Sprintf("release %+.1f s", e.Release.Value()))
	}
	for _, v := range e.Variables {
		s := v.Variable.String()
		switch v.Variable {
		case sounding.WindDirection, sounding.WindU, sounding.WindV:
			continue // wind_speed stands for all of the wind
		case sounding.DewPoint, sounding.MixingRatio, sounding.VirtualTemperature, sounding.PotentialTemperature:
			continue // they follow temperature and humidity; --json has them
		}
		if v.Flags > 0 {
			s += fmt.Sprintf(" %d %s", v.Flags, plural(v.Flags, "flag"))
		}
		if v.Values > 0 {
			s += fmt.Sprintf(" %d %s", v.Values, plural(v.Values, "value"))
			if v.Largest.Set() {
				s += fmt.Sprintf(" by %.2g %s", v.Largest.Value(), v.Unit)
			}
		}
		parts = append(parts, s)
	}
	if e.Moved > 0 {
		parts = append(parts, fmt.Sprintf("%d %s", e.Moved, plural(e.Moved, "level")))
	}
	if e.Gone > 0 {
		parts = append(parts, fmt.Sprintf("%d %s gone", e.Gone, plural(e.Gone, "finding")))
	}
	if e.New > 0 {
		parts = append(parts, fmt.Sprintf("%d new", e.New))
	}
	return strings.Join(parts, "; ")
}

// groupAbout says in a few words what a group decides.
func groupAbout(g workbench.Group) string {
	switch g.Action {
	case sounding.ActCorrectRecord:
		if g.Rule != "" {
			return g.Field + " " + g.Rule
		}
		return g.Field + " to " + g.Value
	case sounding.ActChooseSheet:
		return g.Value
	case sounding.ActFlag:
		return g.Value + ": " + g.Rule
	}
	return g.Rule
}

func (p *program) groupListCmd() *cobra.Command {
	return &cobra.Command{
		Use:     "list",
		Short:   "the decisions that were made for many flights, the newest first",
		Example: "  leadline group list --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			all, err := bench.Groups(cmd.Context())
			if err != nil {
				return err
			}
			if p.json {
				return p.printJSON(all)
			}
			if len(all) == 0 {
				fmt.Fprintln(p.out, "no decision was made for many flights yet: leadline help group")
				return nil
			}
			var cells [][]string
			for _, g := range all {
				now, of := g.InForce()
				cells = append(cells, []string{g.ID, utcTime(g.When), fmt.Sprintf("%d of %d", now, of), string(g.Action), plain(groupAbout(g)), plain(g.Who), plain(g.Reason)})
			}
			table(p.out, []string{"group", "UTC", ">in force on", "action", "about", "by", "reason"}, cells)
			return nil
		},
	}
}

func (p *program) groupShowCmd() *cobra.Command {
	return &cobra.Command{
		Use:     "show GROUP",
		Short:   "one decision for many flights: its flights, and where it is in force",
		Example: "  leadline group show g1",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			g, err := bench.Group(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			if p.json {
				return p.printJSON(g)
			}
			fmt.Fprintf(p.out, "%s: %s %s\n  by %s, %s UTC: %s\n", g.ID, g.Action, plain(groupAbout(g)), plain(g.Who), utcTime(g.When), plain(g.Reason))
			for _, r := range g.Revoked {
				fmt.Fprintf(p.out, "  taken back on %d %s by %s, %s UTC: %s\n", r.Flights, plural(r.Flights, "flight"), plain(r.Who), utcTime(r.When), plain(r.Reason))
			}
			var cells [][]string
			for _, x := range g.Parts {
				state := "in force"
				if !x.InForce {
					state = "taken back"
				}
				cells = append(cells, []string{x.Flight, x.Decision, state})
			}
			table(p.out, []string{">flight", "decision", "state"}, cells)
			return nil
		},
	}
}

func (p *program) groupRevokeCmd() *cobra.Command {
	var st storing
	var without string
	c := &cobra.Command{
		Use:   "revoke GROUP",
		Short: "take a decision back on all its flights; the effect on each first",
		Example: `  leadline group revoke g1
  leadline group revoke g1 --store --reason "the survey was right"`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := st.complete(); err != nil {
				return err
			}
			ctx := cmd.Context()
			bench, closeStore, err := p.open()
			if err != nil {
				return err
			}
			defer closeStore()
			g, err := bench.Group(ctx, args[0])
			if err != nil {
				return err
			}
			rows, err := bench.Rows(ctx)
			if err != nil {
				return err
			}
			left, err := flightList(without, rows)
			if err != nil {
				return err
			}
			var seen []workbench.Seen
			if st.seen != "" {
				if seen, err = readSeen(st.seen, applicable); err != nil {
					return err
				}
			} else {
				_, n := g.InForce()
				effects, err := p.listed(n, func(each func(workbench.Effect) error) error { return bench.PreviewGroupRevocation(ctx, g.ID, each) })
				if err != nil {
					return err
				}
				if p.json && !st.store {
					return p.printJSON(effects)
				}
				if !p.json {
					p.printEffects(effects)
				}
				if !st.store {
					fmt.Fprintln(p.out, "nothing is stored; with --store and --reason it is taken back")
					return nil
				}
				seen = applicable(effects)
			}
			seen = slices.DeleteFunc(seen, func(x workbench.Seen) bool { return left[x.Flight] })
			if len(seen) == 0 {
				return errors.New("nothing was taken back: no part of it is in force on a flight that is not locked")
			}
			bar := p.newProgress(len(seen))
			g, err = bench.RevokeGroup(ctx, g.ID, sounding.Revoked{Reason: st.reason, Who: st.who}, seen, func(int) { bar.step("taken back together at the end") })
			return p.storedGroup(ctx, bench, g, err, "taken back")
		},
	}
	st.add(c)
	c.Flags().StringVar(&without, "without", "", "but not on these flights, by number or name")
	return c
}
