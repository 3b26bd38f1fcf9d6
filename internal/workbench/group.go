package workbench

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Proposal is one decision meant for many flights.
type Proposal struct {
	Action   sounding.Action `json:"action"`            // correct-record, choose-sheet, choose-settings, exclude or flag
	Field    string          `json:"field,omitempty"`   // correct-record: item of the launch record
	Value    string          `json:"value,omitempty"`   // correct-record: its new text, or the amount it is shifted by; flag: questionable or bad
	Shifted  bool            `json:"shifted,omitempty"` // correct-record: Value is added to what each flight has
	Sheet    SheetChoice     `json:"sheet,omitzero"`    // choose-sheet
	Settings SettingsChoice  `json:"settings,omitzero"` // choose-settings
	Kind     SpanKind        `json:"kind,omitzero"`     // exclude and flag: which samples
	Reason   string          `json:"reason"`
	Who      string          `json:"who"`
}

// SheetChoice is the instrument sheet a proposal chooses.
type SheetChoice struct {
	Name string `json:"name"`           // of a shipped sheet, or of the file the text stands in
	Text string `json:"text,omitempty"` // TOML; "" for the shipped sheet of that name
}

// GroupActions are the actions a proposal may have.
var GroupActions = []sounding.Action{sounding.ActCorrectRecord, sounding.ActChooseSheet, sounding.ActChooseSettings, sounding.ActExclude, sounding.ActFlag}

// readyProposal is a proposal that has been read once for all flights.
type readyProposal struct {
	Proposal
	rule     string
	shift    Shift
	sheet    *sounding.InstrumentSheet
	settings *Settings
	text     Blob
	flag     quality.Flag
	when     time.Time
}

// ready reads a proposal and refuses one that could not be stored for any flight.
func (p Proposal) ready() (*readyProposal, error) {
	r := &readyProposal{Proposal: p}
	r.Reason, r.Who = strings.TrimSpace(p.Reason), strings.TrimSpace(p.Who)
	switch p.Action {
	case sounding.ActCorrectRecord:
		if p.Field == "" || strings.TrimSpace(p.Value) == "" {
			return nil, &RefusedError{"correct-record needs a field and a value"}
		}
		if p.Shifted {
			var err error
			if r.shift, err = ReadShift(p.Field, p.Value); err != nil {
				return nil, &RefusedError{err.Error()}
			}
			r.rule = r.shift.Words()
		} else if err := ingest.SetField(sounding.NewLaunchRecord(), p.Field, p.Value); err != nil {
			return nil, &RefusedError{err.Error()}
		}
		if _, known := sounding.FieldByPath(p.Field); p.Field == "radiosonde.sheet" || !known && strings.HasSuffix(p.Field, ".sheet") {
			return nil, &RefusedError{"the name in the launch record does not choose the instrument sheet: use choose-sheet"}
		}
	case sounding.ActChooseSheet:
		if p.Sheet.Name == "" {
			return nil, &RefusedError{"choose-sheet needs an instrument sheet: shipped are " + strings.Join(sounding.ShippedSheets(), ", ")}
		}
		var err error
		if r.text, r.sheet, err = SheetBlob(File{Name: p.Sheet.Name, Bytes: []byte(p.Sheet.Text)}); err != nil {
			return nil, &RefusedError{err.Error()}
		}
	case sounding.ActChooseSettings:
		if p.Settings.Name == "" {
			return nil, &RefusedError{"choose-settings needs a settings file, or shipped"}
		}
		if p.Settings.Text == "" && p.Settings.Name != SettingsShipped {
			return nil, &RefusedError{fmt.Sprintf("the settings file %s is empty: choose shipped for the settings that come with the program", p.Settings.Name)}
		}
		var err error
		if r.settings, r.text, err = p.Settings.read(); err != nil {
			return nil, &RefusedError{err.Error()}
		}
	case sounding.ActExclude, sounding.ActFlag:
		r.flag = quality.Bad
		if p.Action == sounding.ActFlag {
			if p.Value != "questionable" && p.Value != "bad" {
				return nil, &RefusedError{fmt.Sprintf("flag needs questionable or bad for many flights, not %q: what is good is ruled flight by flight", p.Value)}
			}
			r.flag, _ = quality.ParseFlag(p.Value)
		}
		if err := p.Kind.Validate(); err != nil {
			return nil, &RefusedError{err.Error()}
		}
		r.rule = p.Kind.Words()
	default:
		return nil, &RefusedError{fmt.Sprintf("%q is no action for many flights: want one of %v", p.Action, GroupActions)}
	}
	return r, nil
}

// Effects a group decision may have on one flight.
const (
	EffectChanges = "changes"   // the decision would be stored for it
	EffectNone    = "no effect" // nothing would change: nothing is stored for it
	EffectCannot  = "cannot"    // it cannot be applied; Why says why
)

// Effect is what a group decision, or taking one back, does to one flight.
type Effect struct {
	Flight    string               `json:"flight"`
	Name      string               `json:"name"`
	Revision  int                  `json:"revision"` // of the flight the effect was computed on
	Word      string               `json:"effect"`   // changes, no effect or cannot
	Why       string               `json:"why,omitempty"`
	Item      *ItemChange          `json:"item,omitempty"`     // of the launch record
	Sheet     *[2]string           `json:"sheet,omitempty"`    // its name before and after
	Settings  *[2]string           `json:"settings,omitempty"` // name of their file before and after, shipped for none
	MethodSet [2]string            `json:"method_set"`         // before and after
	Signed    string               `json:"signed,omitempty"`   // who has signed the flight: it is locked, and the effect is what reopening it would allow
	Largest   string               `json:"largest,omitempty"`  // the largest change in words
	Spans     int                  `json:"spans"`              // excluded or flagged
	Samples   int                  `json:"samples"`            // in them
	Verdict   [2]string            `json:"verdict"`            // before and after
	Line      [2]string            `json:"line"`               // why that verdict
	Release   sounding.Number      `json:"release_s"`          // after minus before; null where one of them has none
	Variables []VariableDifference `json:"variables"`          // those with any change
	Gone      int                  `json:"findings_gone"`
	New       int                  `json:"findings_new"`
	Levels    [2]int               `json:"levels"`
	Moved     int                  `json:"levels_changed"`
}

// ItemChange is an item of the launch record before and after, in the unit of its path.
type ItemChange struct {
	Path   string `json:"path"`
	Label  string `json:"label"`
	Unit   string `json:"unit"`   // of both, "" where they are no numbers or have none
	Before string `json:"before"` // "" where it was not given
	After  string `json:"after"`
}

// Seen is a flight at the revision at which its effect was looked at.
type Seen struct {
	Flight   string `json:"flight"`
	Revision int    `json:"revision"`
}

// Group is one decision that was stored for many flights, as the logbook keeps it.
type Group struct {
	ID      string            `json:"id"` // given by the store: "g1", "g2", …
	Action  sounding.Action   `json:"action"`
	Field   string            `json:"field,omitempty"`
	Label   string            `json:"label,omitempty"` // of the launch-record item; not stored
	Value   string            `json:"value,omitempty"`
	Rule    string            `json:"rule,omitempty"` // the kind of span, or the shift, in words
	Kind    *SpanKind         `json:"kind,omitempty"`
	Reason  string            `json:"reason"`
	Who     string            `json:"who"`
	When    time.Time         `json:"when_utc"`
	Parts   []GroupPart       `json:"parts"`   // in the order of the flights' numbers
	Revoked []GroupRevocation `json:"revoked"` // every time it was taken back as one
}

// GroupPart is a decision of a group on one flight.
type GroupPart struct {
	Flight   string `json:"flight"`
	Decision string `json:"decision"`
	InForce  bool   `json:"in_force"` // false once it was taken back, alone or as one
}

// GroupRevocation says that a group was taken back as one.
type GroupRevocation struct {
	sounding.Revoked
	Flights int `json:"flights"` // for how many
}

// InForce returns the number of flights on which a part of the group is in force, and of
// all flights it was stored for.
func (g *Group) InForce() (now, all int) {
	flights, held := map[string]bool{}, map[string]bool{}
	for _, p := range g.Parts {
		flights[p.Flight] = true
		if p.InForce {
			held[p.Flight] = true
		}
	}
	return len(held), len(flights)
}

// GroupAddition is what the store appends for one flight of a group: decisions to make,
// or those to take back.
type GroupAddition struct {
	Seen
	Decisions []sounding.Decision // with the IDs they must get; to take back: ID alone counts
	Row       Row                 // of the flight afterwards
}

// GroupError says why a decision was stored for no flight of a group.
type GroupError struct {
	Flights []GroupRefusal
}

// GroupRefusal says why a flight stands against storing a group.
type GroupRefusal struct {
	Flight string `json:"flight"`
	Why    string `json:"why"`
}

func (e *GroupError) Error() string {
	var parts []string
	for i, f := range e.Flights {
		if i == 3 && len(e.Flights) > 4 {
			parts = append(parts, fmt.Sprintf("and %d more", len(e.Flights)-3))
			break
		}
		parts = append(parts, f.Why)
	}
	return "nothing was stored: " + strings.Join(parts, "; ")
}

// PreviewGroup computes what a proposal would do to each flight, on as many flights at
// once as there are processors, and hands the effects on in the order of ids. Nothing is
// stored. It ends early where ctx ends or each returns an error.
func (b *Bench) PreviewGroup(ctx context.Context, p Proposal, ids []string, each func(Effect) error) error {
	r, err := p.ready()
	if err != nil {
		return err
	}
	return EachFlight(ctx, once(ids), 0, func(ctx context.Context, id string) (Effect, error) {
		e, _, err := b.effect(ctx, id, func(before *Outcome, f StoredFlight) (change, error) { return r.change(before, f) })
		return e, err
	}, func(_ int, id string, e Effect, err error) error { return handOn(id, e, err, each) })
}

// handOn gives an effect on; a flight that failed has one too.
func handOn(id string, e Effect, err error, each func(Effect) error) error {
	if err != nil {
		if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
			return err
		}
		e = noEffect(id)
		e.Word, e.Why = EffectCannot, err.Error()
	}
	return each(e)
}

func noEffect(id string) Effect {
	return Effect{Flight: id, Word: EffectNone, Release: sounding.NotSet, Variables: []VariableDifference{}}
}

// change is what a group decision, or its revocation, does to the inputs of one flight.
type change struct {
	decisions  []sounding.Decision          // made, or taken back
	inputs     func(Inputs) Inputs          // the inputs afterwards
	steps      func(revision int) []Ruling  // added to the flight's history
	effect     func(e *Effect, to *Outcome) // what else is to be said
	always     bool                         // stored even where nothing changes
	evenSigned bool                         // computed for a flight that is locked, too
	why        string                       // why it cannot be applied; "" where it can
}

// effect computes what a change does to one flight, and what the store would add.
func (b *Bench) effect(ctx context.Context, id string, of func(*Outcome, StoredFlight) (change, error)) (Effect, GroupAddition, error) {
	e, add := noEffect(id), GroupAddition{}
	f, err := b.store.Flight(ctx, id)
	if err != nil {
		return e, add, err
	}
	before := b.recall(id, f.Revision)
	if before == nil {
		if before, err = openStored(f); err != nil {
			return e, add, err
		}
	}
	e.Name, e.Revision = before.Final.FlightName, f.Revision
	e.Verdict = [2]string{before.Final.Verdict.Word, before.Final.Verdict.Word}
	e.Line = [2]string{before.Final.Verdict.Line, before.Final.Verdict.Line}
	e.Levels = [2]int{len(before.Levels.Levels), len(before.Levels.Levels)}
	e.MethodSet = [2]string{before.Final.MethodSet, before.Final.MethodSet}
	standing := Replay(f.History)
	locked := standing.Admit(id, RulingDecision)
	if standing.Signature != nil {
		e.Signed = standing.Signature.Who
	}
	c, err := of(before, f)
	if err != nil {
		return e, add, err
	}
	if locked != nil && !c.evenSigned {
		e.Word, e.Why = EffectCannot, locked.Error()
		return e, add, nil
	}
	if c.why != "" {
		e.Word, e.Why = EffectCannot, c.why
		return e, add, nil
	}
	after, err := Run(c.inputs(before.Inputs))
	if err != nil {
		return e, add, err
	}
	d := Compare(before, after)
	e.Verdict[1], e.Line[1] = after.Final.Verdict.Word, after.Final.Verdict.Line
	e.MethodSet[1] = after.Final.MethodSet
	e.Largest = largestChange(d.Variables)
	e.Release, e.Gone, e.New, e.Levels, e.Moved = d.Release, len(d.Gone), len(d.New), d.Levels, d.LevelsMove
	if d.Variables != nil {
		e.Variables = d.Variables
	}
	c.effect(&e, after)
	if !d.Empty() || e.Item != nil || e.Sheet != nil {
		e.Word = EffectChanges
	}
	if locked != nil {
		e.Word, e.Why = EffectCannot, locked.Error()
		return e, add, nil
	}
	if e.Word != EffectChanges && !c.always {
		return e, add, nil
	}
	after.History = append(slices.Clone(f.History), c.steps(f.Revision)...)
	if after.Final.SignOff, err = signOff(after, ""); err != nil {
		return e, add, err
	}
	add = GroupAddition{Seen: Seen{id, f.Revision}, Decisions: c.decisions, Row: rowOf(after, id, f.Revision+len(c.decisions))}
	return e, add, nil
}

// change is what the proposal does to one flight.
func (r *readyProposal) change(before *Outcome, f StoredFlight) (change, error) {
	made := sounding.Decision{Action: r.Action, Reason: r.Reason, Who: r.Who, When: r.when, Rule: r.rule}
	c := change{effect: func(*Effect, *Outcome) {}}
	switch r.Action {
	case sounding.ActCorrectRecord:
		made.Field, made.Value = r.Field, strings.TrimSpace(r.Value)
		if r.Shifted {
			var err error
			if made.Value, err = r.shift.Of(before.Record); err != nil {
				return c, err
			}
		}
		record := before.Record.Clone()
		if err := ingest.SetField(record, r.Field, made.Value); err != nil {
			return c, err
		}
		item := changedItem(before.Record, record)
		if item == nil {
			c.why = "it says so already"
			return c, nil
		}
		c.decisions = []sounding.Decision{made}
		c.effect = func(e *Effect, _ *Outcome) { e.Item = item }
	case sounding.ActChooseSheet:
		made.Field, made.Value = r.text.SHA256, r.sheet.Name
		now, name := f.Sheet.SHA256, ""
		if before.Final.Sheet != nil {
			name = before.Final.Sheet.Name
		}
		for _, d := range inForce(f.Decisions) {
			if d.Action == sounding.ActChooseSheet {
				now = d.Field
			}
		}
		if now == r.text.SHA256 {
			c.why = "it has this instrument sheet already"
			return c, nil
		}
		c.decisions = []sounding.Decision{made}
		c.effect = func(e *Effect, after *Outcome) { e.Sheet = &[2]string{name, after.Final.Sheet.Name} }
	case sounding.ActChooseSettings:
		c.evenSigned = true
		made.Field, made.Value = r.text.SHA256, r.text.Name
		if f.settingsKey() == r.text.SHA256 {
			c.why = "it has these settings already"
			return c, nil
		}
		// Settings that change nothing on this flight are stored all the same: the flights
		// of a campaign are to have one method set.
		c.always = true
		c.decisions = []sounding.Decision{made}
		c.effect = func(e *Effect, _ *Outcome) { e.Settings = &[2]string{f.settingsName(), r.text.Name} }
	default:
		if r.Action == sounding.ActFlag {
			made.Value = r.Value
		}
		picked, why := r.Kind.pick(before, r.flag)
		if why != "" {
			c.why = why
			return c, nil
		}
		spans, samples := 0, 0
		for _, p := range picked {
			d := made
			d.Variables, d.Spans = p.variables, p.spans
			if len(d.Spans) == 1 {
				d.From, d.To, d.Spans = d.Spans[0].From, d.Spans[0].To, nil
			}
			c.decisions = append(c.decisions, d)
			spans += len(p.spans)
			samples += p.samples
		}
		c.effect = func(e *Effect, _ *Outcome) { e.Spans, e.Samples = spans, samples }
	}
	for i := range c.decisions {
		c.decisions[i].ID = fmt.Sprintf("d%d", len(f.Decisions)+i+1)
		check := c.decisions[i]
		if check.Reason == "" {
			check.Reason = "preview"
		}
		if err := check.Validate(); err != nil {
			return c, err
		}
	}
	c.inputs = func(in Inputs) Inputs {
		in.Decisions = append(slices.Clone(in.Decisions), c.decisions...)
		if r.sheet != nil {
			sheets := map[string]*sounding.InstrumentSheet{r.text.SHA256: r.sheet}
			for k, v := range in.Sheets {
				sheets[k] = v
			}
			in.Sheets = sheets
		}
		if r.settings != nil {
			files := map[string]*Settings{r.text.SHA256: r.settings}
			for k, v := range in.SettingsFiles {
				files[k] = v
			}
			in.SettingsFiles = files
		}
		return in
	}
	c.steps = func(revision int) []Ruling {
		out := make([]Ruling, len(c.decisions))
		for i := range c.decisions {
			d := &c.decisions[i]
			out[i] = Ruling{Revision: revision + i + 1, Kind: RulingDecision, Who: d.Who, Reason: d.Reason, When: d.When, ID: d.ID, Decision: d}
		}
		return out
	}
	return c, nil
}

// changedItem returns the item in which two launch records differ; nil where none does.
func changedItem(a, b *sounding.LaunchRecord) *ItemChange {
	for _, f := range sounding.RecordFields {
		if x, y := ItemText(f, a), ItemText(f, b); x != y {
			return &ItemChange{Path: f.Path, Label: f.Label, Unit: ItemUnit(f), Before: x, After: y}
		}
	}
	return nil
}

// StoreGroup computes the effects anew and stores the proposal for all flights seen, in
// one transaction under one number: for all of them or, with *GroupError, for none. A
// flight that has moved on since it was seen, or on which the proposal has no effect or
// cannot be applied, stands against it. progress is told how many flights are done.
func (b *Bench) StoreGroup(ctx context.Context, p Proposal, seen []Seen, progress func(done int)) (Group, error) {
	r, err := p.ready()
	if err != nil {
		return Group{}, err
	}
	if r.Who == "" || r.Reason == "" {
		return Group{}, &RefusedError{"a decision needs a name and a reason"}
	}
	r.when = b.now().UTC().Truncate(time.Millisecond)
	additions, err := b.additions(ctx, seen, progress, r.change)
	if err != nil {
		return Group{}, err
	}
	g := Group{Action: r.Action, Field: r.Field, Value: r.Value, Rule: r.rule, Reason: r.Reason, Who: r.Who, When: r.when}
	var blobs []Blob
	switch r.Action {
	case sounding.ActChooseSheet:
		g.Field, g.Value = r.text.SHA256, r.sheet.Name
		blobs = []Blob{r.text}
	case sounding.ActChooseSettings:
		g.Field, g.Value = r.text.SHA256, r.text.Name
		blobs = []Blob{r.text}
	case sounding.ActExclude, sounding.ActFlag:
		g.Kind = &r.Kind
	}
	if g, err = b.store.DecideGroup(ctx, g, blobs, additions); err != nil {
		return Group{}, err
	}
	g.label()
	return g, nil
}

func (g *Group) label() {
	if f, known := sounding.FieldByPath(g.Field); known && g.Action == sounding.ActCorrectRecord {
		g.Label = f.Label
	}
}

// additions computes what the store is to add for each flight seen.
func (b *Bench) additions(ctx context.Context, seen []Seen, progress func(int), of func(*Outcome, StoredFlight) (change, error)) ([]GroupAddition, error) {
	if len(seen) == 0 {
		return nil, &RefusedError{"no flight was chosen"}
	}
	ids, at := make([]string, len(seen)), map[string]int{}
	for i, s := range seen {
		if _, twice := at[s.Flight]; twice {
			return nil, &RefusedError{fmt.Sprintf("flight %s was named twice", s.Flight)}
		}
		ids[i], at[s.Flight] = s.Flight, s.Revision
	}
	type worked struct {
		effect Effect
		add    GroupAddition
	}
	var out []GroupAddition
	var refused []GroupRefusal
	done := 0
	err := EachFlight(ctx, ids, 0, func(ctx context.Context, id string) (worked, error) {
		e, add, err := b.effect(ctx, id, func(before *Outcome, f StoredFlight) (change, error) {
			if f.Revision != at[id] {
				return change{why: (&StaleError{Flight: id, Expected: at[id], Current: f.Revision, Since: since(f.History, at[id])}).Error()}, nil
			}
			c, err := of(before, f)
			if c.why != "" {
				c.why = fmt.Sprintf("flight %s: %s", id, c.why)
			}
			return c, err
		})
		return worked{e, add}, err
	}, func(_ int, id string, w worked, err error) error {
		switch {
		case err != nil && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)):
			return err
		case err != nil:
			refused = append(refused, GroupRefusal{id, fmt.Sprintf("flight %s: %v", id, err)})
		case w.effect.Word == EffectCannot:
			refused = append(refused, GroupRefusal{id, w.effect.Why})
		case w.add.Flight == "":
			refused = append(refused, GroupRefusal{id, fmt.Sprintf("flight %s: nothing would change", id)})
		default:
			out = append(out, w.add)
		}
		if done++; progress != nil {
			progress(done)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(refused) > 0 {
		return nil, &GroupError{refused}
	}
	return out, nil
}

func since(history []Ruling, revision int) []Ruling {
	var out []Ruling
	for _, r := range history {
		if r.Revision > revision {
			out = append(out, r)
		}
	}
	return out
}

// Groups returns the groups of the logbook, the newest first.
func (b *Bench) Groups(ctx context.Context) ([]Group, error) {
	all, err := b.store.Groups(ctx)
	for i := range all {
		all[i].label()
	}
	return all, err
}

// Group returns the group with that number; *RefusedError where there is none.
func (b *Bench) Group(ctx context.Context, id string) (Group, error) {
	all, err := b.Groups(ctx)
	if err != nil {
		return Group{}, err
	}
	for _, g := range all {
		if g.ID == id {
			return g, nil
		}
	}
	return Group{}, &RefusedError{fmt.Sprintf("the logbook has no group %q", id)}
}

// flights returns the numbers of the flights with a part of the group, in order.
func (g *Group) flights() []string {
	var out []string
	for _, p := range g.Parts {
		if len(out) == 0 || out[len(out)-1] != p.Flight {
			out = append(out, p.Flight)
		}
	}
	return out
}

// PreviewGroupRevocation computes what taking a group back would do to each of its
// flights. Those whose part was taken back already say so.
func (b *Bench) PreviewGroupRevocation(ctx context.Context, group string, each func(Effect) error) error {
	g, err := b.Group(ctx, group)
	if err != nil {
		return err
	}
	return EachFlight(ctx, g.flights(), 0, func(ctx context.Context, id string) (Effect, error) {
		e, _, err := b.effect(ctx, id, func(before *Outcome, f StoredFlight) (change, error) {
			return takenBack(group, sounding.Revoked{}, f), nil
		})
		return e, err
	}, func(_ int, id string, e Effect, err error) error { return handOn(id, e, err, each) })
}

// takenBack is what taking a group back does to one flight.
func takenBack(group string, said sounding.Revoked, f StoredFlight) change {
	c := change{always: true, effect: func(*Effect, *Outcome) {}}
	said.Group = group
	after := slices.Clone(f.Decisions)
	alone := ""
	for i := range after {
		d := &after[i]
		if d.Group != group {
			continue
		}
		if d.Revoked != nil {
			alone = fmt.Sprintf("its part was taken back already, by %s: %s", d.Revoked.Who, d.Revoked.Reason)
			continue
		}
		c.decisions = append(c.decisions, *d)
		d.Revoked = &said
	}
	if len(c.decisions) == 0 {
		c.why = alone
		if alone == "" {
			c.why = "it has no part in " + group
		}
		return c
	}
	c.inputs = func(in Inputs) Inputs {
		in.Decisions = after
		return in
	}
	c.effect = func(e *Effect, to *Outcome) {
		for _, d := range c.decisions {
			switch d.Action {
			case sounding.ActCorrectRecord:
				// The record before is the one that the decisions, this one included, made.
				was := mergedRecord(to.Inputs.Record, to.Inputs.Raw.Record)
				was, _ = correctedRecord(was, inForce(f.Decisions))
				e.Item = changedItem(was, to.Record)
			case sounding.ActChooseSheet:
				name := ""
				if to.Final.Sheet != nil {
					name = to.Final.Sheet.Name
				}
				e.Sheet = &[2]string{d.Value, name}
			case sounding.ActChooseSettings:
				back := f
				back.Decisions = after
				e.Settings = &[2]string{f.settingsName(), back.settingsName()}
			case sounding.ActExclude, sounding.ActFlag:
				e.Spans += len(d.Intervals())
			}
		}
	}
	c.steps = func(revision int) []Ruling {
		out := make([]Ruling, len(c.decisions))
		for i := range c.decisions {
			out[i] = Ruling{Revision: revision + i + 1, Kind: RulingRevocation, Who: said.Who, Reason: said.Reason, When: said.When, ID: c.decisions[i].ID, Group: group}
		}
		return out
	}
	return c
}

// RevokeGroup takes a group back on all flights seen, in one transaction: on all of them
// or, with *GroupError, on none.
func (b *Bench) RevokeGroup(ctx context.Context, group string, said sounding.Revoked, seen []Seen, progress func(done int)) (Group, error) {
	said.Who, said.Reason = strings.TrimSpace(said.Who), strings.TrimSpace(said.Reason)
	if err := b.complete(&said, "taking a group back"); err != nil {
		return Group{}, err
	}
	if _, err := b.Group(ctx, group); err != nil {
		return Group{}, err
	}
	said.Group = group
	additions, err := b.additions(ctx, seen, progress, func(_ *Outcome, f StoredFlight) (change, error) {
		return takenBack(group, said, f), nil
	})
	if err != nil {
		return Group{}, err
	}
	if err := b.store.RevokeGroup(ctx, group, said, additions); err != nil {
		return Group{}, err
	}
	return b.Group(ctx, group)
}
