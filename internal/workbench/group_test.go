package workbench_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"leadline/internal/api/apitest"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// campaignOf opens a logbook of some simulated flights.
func campaignOf(t *testing.T, flights ...apitest.Flight) (*workbench.Bench, []string) {
	t.Helper()
	b, store, err := apitest.Open(t.TempDir(), func() time.Time { return signedAt })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	ids, err := apitest.Add(context.Background(), b, flights)
	if err != nil {
		t.Fatal(err)
	}
	return b, ids
}

var (
	spiky = apitest.Flight{Site: "reed bay", Climate: truth.Marine, Day: true, Sheet: "single-humidity", Faults: []truth.Fault{{Name: "temperature-spikes"}}}
	plain = apitest.Flight{Site: "reed bay", Climate: truth.MidLatitudeWinter, Sheet: "single-humidity"}
	icy   = apitest.Flight{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Faults: []truth.Fault{{Name: "humidity-icing"}}}
)

func effects(t *testing.T, b *workbench.Bench, p workbench.Proposal, ids []string) []workbench.Effect {
	t.Helper()
	var out []workbench.Effect
	if err := b.PreviewGroup(context.Background(), p, ids, func(e workbench.Effect) error { out = append(out, e); return nil }); err != nil {
		t.Fatal(err)
	}
	if len(out) != len(ids) {
		t.Fatalf("%d effects of %d flights", len(out), len(ids))
	}
	for i, e := range out {
		if e.Flight != ids[i] {
			t.Errorf("effect %d is of flight %s, want %s", i, e.Flight, ids[i])
		}
	}
	return out
}

func open(t *testing.T, b *workbench.Bench, id string) (*workbench.Outcome, int) {
	t.Helper()
	o, revision, err := b.Open(context.Background(), id)
	if err != nil {
		t.Fatal(err)
	}
	return o, revision
}

func seenOf(list []workbench.Effect) []workbench.Seen {
	var out []workbench.Seen
	for _, e := range list {
		if e.Word == workbench.EffectChanges {
			out = append(out, workbench.Seen{Flight: e.Flight, Revision: e.Revision})
		}
	}
	return out
}

// A height that was typed wrong once is corrected for all flights of the site: what is
// listed before is what each flight shows afterwards and what deciding flight by flight
// gives; taken back as one, every flight is as it was.
func TestARecordItemIsCorrectedForManyFlights(t *testing.T) {
	ctx := context.Background()
	b, ids := campaignOf(t, spiky, plain, icy)
	alone, aloneIDs := campaignOf(t, spiky, plain, icy)
	p := workbench.Proposal{Action: sounding.ActCorrectRecord, Field: "site.height_m_msl", Value: "55 m", Reason: "typed wrong once", Who: "first reviewer"}
	var before []*workbench.Outcome
	for _, id := range ids {
		o, _ := open(t, b, id)
		before = append(before, o)
	}
	list := effects(t, b, p, ids)
	for i, e := range list {
		if e.Word != workbench.EffectChanges || e.Item == nil || e.Item.Path != "site.height_m_msl" || e.Item.After != "55" {
			t.Fatalf("%+v", e)
		}
		if o, revision := open(t, b, ids[i]); revision != 0 || len(o.Final.Decisions) != 0 {
			t.Errorf("flight %s: a preview was stored", ids[i])
		}
	}
	done := 0
	g, err := b.StoreGroup(ctx, p, seenOf(list), func(n int) { done = n })
	if err != nil {
		t.Fatal(err)
	}
	if g.ID != "g1" || len(g.Parts) != 3 || done != 3 {
		t.Errorf("%+v, %d done", g, done)
	}
	rows, err := b.Rows(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for i, id := range ids {
		now, revision := open(t, b, id)
		d := sounding.Decision{Action: p.Action, Field: p.Field, Value: p.Value, Reason: p.Reason, Who: p.Who}
		_, single, _, err := alone.Decide(ctx, aloneIDs[i], d, 0)
		if err != nil {
			t.Fatal(err)
		}
		if !same(now, single) {
			t.Errorf("flight %s: deciding for many gives another outcome than deciding for it alone", id)
		}
		if same(now, before[i]) {
			t.Errorf("flight %s: nothing changed", id)
		}
		e, want := list[i], workbench.Compare(before[i], now)
		if e.Verdict != want.Verdict || e.Moved != want.LevelsMove || len(e.Variables) != len(want.Variables) || e.Gone != len(want.Gone) || e.New != len(want.New) {
			t.Errorf("flight %s: listed %+v, became %+v", id, e, want)
		}
		if len(now.Final.Decisions) != 1 || now.Final.Decisions[0].Group != "g1" || revision != 1 {
			t.Errorf("flight %s: %+v at revision %d", id, now.Final.Decisions, revision)
		}
		k := slices.IndexFunc(rows, func(r workbench.Row) bool { return r.ID == id })
		if r := rows[k]; r.Revision != 1 || r.Verdict != now.Final.Verdict.Word || r.State != sounding.StateInReview || r.Reviewer != p.Who || r.Stale {
			t.Errorf("row %+v", r)
		}
	}
	// It says so now: it cannot be applied again, and storing it is refused.
	for _, e := range effects(t, b, p, ids) {
		if e.Word != workbench.EffectCannot || !strings.Contains(e.Why, "already") {
			t.Errorf("%+v", e)
		}
	}
	var undo []workbench.Effect
	if err := b.PreviewGroupRevocation(ctx, "g1", func(e workbench.Effect) error { undo = append(undo, e); return nil }); err != nil {
		t.Fatal(err)
	}
	for i, e := range undo {
		if e.Word != workbench.EffectChanges || e.Item == nil || e.Item.Before != "55" || e.Verdict != [2]string{list[i].Verdict[1], list[i].Verdict[0]} {
			t.Errorf("%+v", e)
		}
	}
	if g, err = b.RevokeGroup(ctx, "g1", sounding.Revoked{Who: "second reviewer", Reason: "the survey was right"}, seenOf(undo), nil); err != nil {
		t.Fatal(err)
	}
	if now, all := g.InForce(); now != 0 || all != 3 || len(g.Revoked) != 1 {
		t.Errorf("%+v", g)
	}
	for i, id := range ids {
		if now, revision := open(t, b, id); !same(now, before[i]) || revision != 2 || now.Final.Decisions[0].Revoked.Group != "g1" {
			t.Errorf("flight %s is not as it was before", id)
		}
	}
}

// A flight that moved on after its effect was listed is named, and nothing is stored.
func TestAFlightThatMovedOnStandsAgainstTheGroup(t *testing.T) {
	ctx := context.Background()
	b, ids := campaignOf(t, spiky, plain)
	p := workbench.Proposal{Action: sounding.ActCorrectRecord, Field: "operator", Value: "night shift", Reason: "roster", Who: "first reviewer"}
	list := effects(t, b, p, ids)
	if _, _, _, err := b.Decide(ctx, ids[1], sounding.Decision{Action: sounding.ActNote, Reason: "seen from the mast", Who: "second reviewer"}, 0); err != nil {
		t.Fatal(err)
	}
	var refused *workbench.GroupError
	if _, err := b.StoreGroup(ctx, p, seenOf(list), nil); !errors.As(err, &refused) || len(refused.Flights) != 1 || refused.Flights[0].Flight != ids[1] || !strings.Contains(refused.Flights[0].Why, "seen from the mast") {
		t.Fatalf("%v", err)
	}
	if _, revision := open(t, b, ids[0]); revision != 0 {
		t.Error("it was stored for the other flight")
	}
	// The user goes on without it.
	if g, err := b.StoreGroup(ctx, p, seenOf(list)[:1], nil); err != nil || len(g.Parts) != 1 {
		t.Errorf("%+v, %v", g, err)
	}
}

// Excluding a kind of span excludes exactly the samples that such findings cover, found
// here by going through findings and rows again, and nothing else.
func TestEverySpanOfACheckIsExcluded(t *testing.T) {
	ctx := context.Background()
	b, ids := campaignOf(t, spiky, plain)
	p := workbench.Proposal{Action: sounding.ActExclude, Kind: workbench.SpanKind{Check: "spike", About: sounding.Temperature, Severity: sounding.Questionable}, Reason: "string", Who: "first reviewer"}
	before, _ := open(t, b, ids[0])
	want := make([]bool, before.Final.Len())
	n := 0
	for _, f := range before.Final.Findings {
		if f.Check != quality.Spike || f.Variable != sounding.Temperature || f.Severity < sounding.Questionable {
			continue
		}
		for _, s := range f.Spans {
			for i := s.From; i < s.To; i++ {
				if !want[i] && !math.IsNaN(before.Final.Values(sounding.Temperature)[i]) {
					want[i] = true
					n++
				}
			}
		}
	}
	if n < 3 {
		t.Fatalf("only %d samples are spikes: the test proves nothing", n)
	}
	list := effects(t, b, p, ids)
	if list[0].Samples != n || list[0].Spans < 2 {
		t.Errorf("%+v, want %d samples", list[0], n)
	}
	if list[1].Word != workbench.EffectCannot || list[1].Why != "it has no such finding" {
		t.Errorf("%+v", list[1])
	}
	// Such spikes are withheld already: excluding them changes nothing, and it is said so.
	if list[0].Word != workbench.EffectNone {
		t.Errorf("%+v", list[0])
	}
	// Through a range, so that something changes: every temperature of 400 to 300 hPa.
	p.Kind = workbench.SpanKind{Where: []workbench.Range{{Of: "pressure", From: 400, To: 300}}, Variables: []sounding.Variable{sounding.Temperature}}
	list = effects(t, b, p, ids)
	// The kind is resolved on the flight as it was looked at: pressures after it may differ.
	var pressures [][]float64
	for _, id := range ids {
		o, _ := open(t, b, id)
		pressures = append(pressures, o.Final.Values(sounding.Pressure))
	}
	if _, err := b.StoreGroup(ctx, p, seenOf(list), nil); err != nil {
		t.Fatal(err)
	}
	for k, id := range ids {
		o, _ := open(t, b, id)
		temperature, pressure := o.Final.Get(sounding.Temperature), pressures[k]
		samples := 0
		for i, x := range pressure {
			inside := x >= 300 && x <= 400 && !math.IsNaN(temperature.Values[i])
			ruled := temperature.Tests[i]&quality.Decision.Bit() != 0
			if inside != ruled || inside && temperature.Flags[i] != quality.Bad {
				t.Fatalf("flight %s, row %d at %.1f hPa: inside %v, ruled on %v, flag %v", id, i, x, inside, ruled, temperature.Flags[i])
			}
			if inside {
				samples++
			}
		}
		if samples != list[k].Samples || samples < 60 {
			t.Errorf("flight %s: %d samples, %d listed", id, samples, list[k].Samples)
		}
		if got := o.Final.Decisions[0].Rule; got != "every sample, where pressure_hpa is 300 to 400, of temperature" {
			t.Errorf("rule %q", got)
		}
		trail, _ := o.Trail(sounding.Temperature, o.Final.Time[slices.IndexFunc(pressure, func(x float64) bool { return x >= 300 && x <= 399 })])
		if len(trail.Decisions) != 1 || trail.Decisions[0].Group != "g1" {
			t.Errorf("flight %s: the trail names %+v", id, trail.Decisions)
		}
	}
}

// What is bad stays bad when a kind of span is set questionable.
func TestSetQuestionableLiftsNothing(t *testing.T) {
	b, ids := campaignOf(t, icy)
	o, _ := open(t, b, ids[0])
	p := workbench.Proposal{Action: sounding.ActFlag, Value: "questionable", Reason: "r", Who: "w",
		Kind: workbench.SpanKind{Where: []workbench.Range{{Of: "height_msl", From: sounding.NotSet, To: 30000}}, Variables: []sounding.Variable{sounding.Humidity}}}
	list := effects(t, b, p, ids)
	if _, err := b.StoreGroup(context.Background(), p, seenOf(list), nil); err != nil {
		t.Fatal(err)
	}
	now, _ := open(t, b, ids[0])
	bad := 0
	for i, was := range o.Final.Get(sounding.Humidity).Flags {
		if is := now.Final.Get(sounding.Humidity).Flags[i]; was == quality.Bad {
			bad++
			if is != quality.Bad {
				t.Fatalf("row %d was bad and is %v", i, is)
			}
		}
	}
	if bad == 0 {
		t.Error("no sample was bad: the test proves nothing")
	}
}

// Another instrument sheet takes the place of the one given, which stays; every run
// uses it until the choice is taken back.
func TestAnotherSheetIsChosen(t *testing.T) {
	ctx := context.Background()
	b, ids := campaignOf(t, plain, icy)
	_, text, err := sounding.ShippedSheet("single-humidity")
	if err != nil {
		t.Fatal(err)
	}
	own := strings.Replace(string(text), `name = "single-humidity"`, `name = "own"`, 1)
	own = strings.Replace(own, "calibration_u_k = 0.1 ", "calibration_u_k = 0.6 ", 1)
	if own == string(text) || !strings.Contains(own, "0.6") {
		t.Fatal("the sheet was not changed: the test proves nothing")
	}
	p := workbench.Proposal{Action: sounding.ActChooseSheet, Sheet: workbench.SheetChoice{Name: "own.toml", Text: own}, Reason: "new calibration", Who: "first reviewer"}
	list := effects(t, b, p, ids)
	if list[0].Word != workbench.EffectChanges || *list[0].Sheet != [2]string{"single-humidity", "own"} || *list[1].Sheet != [2]string{"twin-humidity", "own"} {
		t.Fatalf("%+v", list)
	}
	was, _ := open(t, b, ids[0])
	if _, err := b.StoreGroup(ctx, p, seenOf(list), nil); err != nil {
		t.Fatal(err)
	}
	stored, err := b.Stored(ctx, ids[0])
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(stored.Sheet.Bytes), `name = "single-humidity"`) || len(stored.Sheets) != 1 {
		t.Error("the sheet given was not kept beside the one chosen")
	}
	now, revision := open(t, b, ids[0])
	if now.Final.Sheet.Name != "own" || now.Final.MethodSet == was.Final.MethodSet {
		t.Errorf("sheet %s, method set %s", now.Final.Sheet.Name, now.Final.MethodSet)
	}
	row := slices.IndexFunc(was.Final.Get(sounding.Temperature).Common, func(u float64) bool { return !math.IsNaN(u) })
	if x, y := was.Final.Get(sounding.Temperature).Common[row], now.Final.Get(sounding.Temperature).Common[row]; !(y > x+0.4) {
		t.Errorf("common uncertainty of temperature %.3f K, was %.3f K", y, x)
	}
	for _, e := range effects(t, b, p, ids) {
		if e.Word != workbench.EffectCannot || !strings.Contains(e.Why, "already") {
			t.Errorf("%+v", e)
		}
	}
	// One flight's part is taken back alone; the other keeps it.
	back, _, err := b.Revoke(ctx, ids[0], "d1", sounding.Revoked{Who: "second reviewer", Reason: "older sonde"}, revision)
	if err != nil || !same(back, was) {
		t.Errorf("flight %s is not as it was, %v", ids[0], err)
	}
	g, err := b.Group(ctx, "g1")
	if now, all := g.InForce(); err != nil || now != 1 || all != 2 {
		t.Errorf("%d of %d in force, %v", now, all, err)
	}
	// A signed flight with a chosen sheet is as it was signed.
	o, revision := open(t, b, ids[1])
	if _, _, err := b.Sign(ctx, ids[1], workbench.SignRequest{Who: "first reviewer", Note: "looked at", DespiteOpen: true}, revision); err != nil {
		t.Fatal(err)
	}
	rows, err := b.Rows(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if r.ID == ids[1] && (r.State != sounding.StateSigned || r.Sheet != "own") {
			t.Errorf("%s: %s, sheet %s, method set %s", r.ID, r.State, r.Sheet, o.Final.MethodSet)
		}
	}
	for _, e := range effects(t, b, workbench.Proposal{Action: sounding.ActCorrectRecord, Field: "operator", Value: "x"}, ids[1:]) {
		if e.Word != workbench.EffectCannot || !strings.Contains(e.Why, "signed off by first reviewer") {
			t.Errorf("%+v", e)
		}
	}
}

func TestProposalsThatCannotBe(t *testing.T) {
	b, ids := campaignOf(t, plain)
	pressure := []workbench.Range{{Of: "pressure", From: 100, To: sounding.NotSet}}
	for name, p := range map[string]workbench.Proposal{
		"no such item":        {Action: sounding.ActCorrectRecord, Field: "site.hight_m_msl", Value: "5 m"},
		"no unit":             {Action: sounding.ActCorrectRecord, Field: "surface.pressure", Value: "many"},
		"no value":            {Action: sounding.ActCorrectRecord, Field: "operator"},
		"sheet as an item":    {Action: sounding.ActCorrectRecord, Field: "radiosonde.sheet", Value: "twin-humidity"},
		"no sheet":            {Action: sounding.ActChooseSheet},
		"unknown sheet":       {Action: sounding.ActChooseSheet, Sheet: workbench.SheetChoice{Name: "no-such"}},
		"broken sheet":        {Action: sounding.ActChooseSheet, Sheet: workbench.SheetChoice{Name: "x.toml", Text: "name = 5"}},
		"no kind":             {Action: sounding.ActExclude},
		"no such check":       {Action: sounding.ActExclude, Kind: workbench.SpanKind{Check: "no-such"}},
		"range without what":  {Action: sounding.ActExclude, Kind: workbench.SpanKind{Where: pressure}},
		"range of nothing":    {Action: sounding.ActExclude, Kind: workbench.SpanKind{Where: []workbench.Range{{Of: "colour", From: 1, To: 2}}, Variables: []sounding.Variable{sounding.Humidity}}},
		"range without ends":  {Action: sounding.ActExclude, Kind: workbench.SpanKind{Where: []workbench.Range{{Of: "time", From: sounding.NotSet, To: sounding.NotSet}}, Variables: []sounding.Variable{sounding.Humidity}}},
		"set good":            {Action: sounding.ActFlag, Value: "good", Kind: workbench.SpanKind{Check: "spike"}},
		"action for one only": {Action: sounding.ActSetRelease, Value: "2031-06-03T23:04:11Z"},
	} {
		t.Run(name, func(t *testing.T) {
			p.Reason, p.Who = "r", "w"
			var refused *workbench.RefusedError
			if err := b.PreviewGroup(context.Background(), p, ids, func(workbench.Effect) error { return nil }); !errors.As(err, &refused) {
				t.Errorf("preview: %v", err)
			}
			if _, err := b.StoreGroup(context.Background(), p, []workbench.Seen{{Flight: ids[0]}}, nil); !errors.As(err, &refused) {
				t.Errorf("store: %v", err)
			}
		})
	}
	good := workbench.Proposal{Action: sounding.ActCorrectRecord, Field: "operator", Value: "x", Who: "w"}
	var refused *workbench.RefusedError
	if _, err := b.StoreGroup(context.Background(), good, []workbench.Seen{{Flight: ids[0]}}, nil); !errors.As(err, &refused) {
		t.Errorf("without a reason: %v", err)
	}
	good.Reason = "r"
	if _, err := b.StoreGroup(context.Background(), good, nil, nil); !errors.As(err, &refused) {
		t.Errorf("without a flight: %v", err)
	}
	if _, err := b.StoreGroup(context.Background(), good, []workbench.Seen{{Flight: ids[0]}, {Flight: ids[0]}}, nil); !errors.As(err, &refused) {
		t.Errorf("one flight twice: %v", err)
	}
	var none *workbench.GroupError
	if _, err := b.StoreGroup(context.Background(), good, []workbench.Seen{{Flight: "77"}}, nil); !errors.As(err, &none) || !strings.Contains(err.Error(), "no such flight") {
		t.Errorf("a flight that is not there: %v", err)
	}
}

// A preview that is given up stops, and nothing is stored.
func TestAPreviewCanBeGivenUp(t *testing.T) {
	b, ids := campaignOf(t, plain, spiky, icy)
	ctx, stop := context.WithCancel(context.Background())
	n := 0
	p := workbench.Proposal{Action: sounding.ActCorrectRecord, Field: "operator", Value: "x", Reason: "r", Who: "w"}
	err := b.PreviewGroup(ctx, p, ids, func(workbench.Effect) error {
		n++
		stop()
		return nil
	})
	if !errors.Is(err, context.Canceled) || n == len(ids) {
		t.Errorf("%d effects, %v", n, err)
	}
	if _, err := b.StoreGroup(ctx, p, []workbench.Seen{{Flight: ids[0]}}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if _, revision := open(t, b, ids[0]); revision != 0 {
		t.Error("something was stored")
	}
}
