package workbench_test

import (
	"context"
	"strings"
	"testing"

	"leadline/internal/api/apitest"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

const longerFilter = "[wind.filter]\nshortest_cutoff_s = 55.0\n"

func twoFlights(t *testing.T) (*workbench.Bench, []string) {
	t.Helper()
	b, _, first := logbook(t)
	more, err := apitest.Add(context.Background(), b, []apitest.Flight{{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity"}})
	if err != nil {
		t.Fatal(err)
	}
	return b, append([]string{first}, more...)
}

func settingsProposal(name, text string) workbench.Proposal {
	return workbench.Proposal{Action: sounding.ActChooseSettings, Settings: workbench.SettingsChoice{Name: name, Text: text}, Reason: "agreed", Who: "A. Reviewer"}
}

func effectsOf(t *testing.T, b *workbench.Bench, p workbench.Proposal, ids []string) []workbench.Effect {
	t.Helper()
	var out []workbench.Effect
	if err := b.PreviewGroup(context.Background(), p, ids, func(e workbench.Effect) error { out = append(out, e); return nil }); err != nil {
		t.Fatal(err)
	}
	return out
}

// Settings are replaced in a step that is recorded and taken back; the ones before stay.
func TestOtherSettingsAreAStepOfTheHistory(t *testing.T) {
	ctx := context.Background()
	b, ids := twoFlights(t)
	before, _, err := b.Open(ctx, ids[0])
	if err != nil {
		t.Fatal(err)
	}
	effects := effectsOf(t, b, settingsProposal("mine.toml", longerFilter), ids)
	want := workbench.MethodSet(settings(t, longerFilter), before.Final.Sheet)
	e := effects[0]
	if e.Word != workbench.EffectChanges || e.MethodSet[1] != want || e.MethodSet[0] != before.Final.MethodSet || !strings.Contains(e.Largest, "wind_speed") || *e.Settings != [2]string{"shipped", "mine.toml"} {
		t.Fatalf("%+v, want method set %s", e, want)
	}
	for _, v := range e.Variables {
		if v.Variable == sounding.Temperature {
			t.Errorf("the filter of the wind changes the temperature: %+v", v)
		}
	}
	if again, revision, _ := b.Open(ctx, ids[0]); revision != 0 || again.Final.MethodSet != before.Final.MethodSet {
		t.Fatal("looking at the effect stored something")
	}
	// The effect is what a run with these settings gives.
	v := workbench.FlightVersion{Flight: ids[0], Settings: workbench.SettingsGiven, SettingsName: "mine.toml", SettingsText: longerFilter}
	as, _, err := b.OpenVersion(ctx, v)
	if err != nil {
		t.Fatal(err)
	}

	g, err := b.StoreGroup(ctx, settingsProposal("mine.toml", longerFilter), []workbench.Seen{{Flight: ids[0], Revision: 0}, {Flight: ids[1], Revision: 0}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	after, revision, err := b.Open(ctx, ids[0])
	if err != nil || revision != 1 || after.Final.MethodSet != want || after.Settings.Wind.Filter.ShortestCutoff != 55 {
		t.Fatalf("revision %d, %v", revision, err)
	}
	if d := workbench.Compare(as, after); !d.Empty() {
		t.Errorf("stored and looked at differ: %+v", d)
	}
	f, err := b.Stored(ctx, ids[0])
	if err != nil {
		t.Fatal(err)
	}
	if file, d := f.SettingsInForce(); file.Name != "mine.toml" || string(file.Bytes) != longerFilter || d == nil || d.Reason != "agreed" || len(f.Settings.Bytes) != 0 {
		t.Errorf("%+v %+v", file, d)
	}
	if e := effectsOf(t, b, settingsProposal("mine.toml", longerFilter), ids)[0]; e.Word != workbench.EffectCannot || !strings.Contains(e.Why, "already") {
		t.Errorf("%+v", e)
	}
	// Before the step is still there to be looked at, and shipped settings can be chosen again.
	zero := 0
	old, _, err := b.OpenVersion(ctx, workbench.FlightVersion{Flight: ids[0], Revision: &zero})
	if err != nil {
		t.Fatal(err)
	}
	if d := workbench.Compare(old, before); !d.Empty() || old.Final.MethodSet != before.Final.MethodSet {
		t.Errorf("as of revision 0: %+v", d)
	}
	if back := effectsOf(t, b, settingsProposal("shipped", ""), ids)[0]; back.MethodSet[1] != before.Final.MethodSet || back.Word != workbench.EffectChanges {
		t.Errorf("%+v", back)
	}
	rows, err := b.Rows(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if r.MethodSetNow != "" {
			t.Errorf("%s was made by %s, now %s", r.ID, r.MethodSet, r.MethodSetNow)
		}
	}
	if _, err := b.RevokeGroup(ctx, g.ID, sounding.Revoked{Reason: "too long", Who: "A. Reviewer"}, []workbench.Seen{{Flight: ids[0], Revision: 1}, {Flight: ids[1], Revision: 1}}, nil); err != nil {
		t.Fatal(err)
	}
	again, _, err := b.Open(ctx, ids[0])
	if err != nil {
		t.Fatal(err)
	}
	if d := workbench.Compare(again, before); !d.Empty() || again.Final.MethodSet != before.Final.MethodSet {
		t.Errorf("taken back: %+v", d)
	}
}

func TestSignedFlightsAreNamedAndLeftAlone(t *testing.T) {
	ctx := context.Background()
	b, ids := twoFlights(t)
	if _, _, err := b.Sign(ctx, ids[0], workbench.SignRequest{Who: "B. Signer", Note: "known", DespiteOpen: true}, 0); err != nil {
		t.Fatal(err)
	}
	effects := effectsOf(t, b, settingsProposal("mine.toml", longerFilter), ids)
	if e := effects[0]; e.Word != workbench.EffectCannot || e.Signed != "B. Signer" || len(e.Variables) == 0 || e.MethodSet[0] == e.MethodSet[1] {
		t.Errorf("%+v", e)
	}
	if e := effects[1]; e.Word != workbench.EffectChanges || e.Signed != "" {
		t.Errorf("%+v", e)
	}
	if _, err := b.StoreGroup(ctx, settingsProposal("mine.toml", longerFilter), []workbench.Seen{{Flight: ids[0], Revision: 1}, {Flight: ids[1], Revision: 0}}, nil); err == nil {
		t.Error("a signed flight was reprocessed")
	}
	if o, revision, _ := b.Open(ctx, ids[1]); revision != 0 || len(o.Final.Decisions) != 0 {
		t.Error("half of it was stored")
	}
}

func TestSettingsThatCannotBeReadAreRefused(t *testing.T) {
	b, ids := twoFlights(t)
	for _, c := range []struct{ name, text, says string }{
		{"", "", "needs a settings file"}, {"mine.toml", "", "is empty"}, {"mine.toml", "[wind]\nx = 1\n", "unknown key"},
		{"mine.toml", "[levels]\nheight_step_m = -1.0\n", "height_step_m"}, {"mine.toml", "[wind", "line 1"},
	} {
		err := b.PreviewGroup(context.Background(), settingsProposal(c.name, c.text), ids, func(workbench.Effect) error { return nil })
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q %q: %v, want %q", c.name, c.text, err, c.says)
		}
	}
}

// A row that another version of the program made says so, with what changed, and is made
// anew on demand only.
func TestRowsOfAnotherVersion(t *testing.T) {
	ctx := context.Background()
	b, s, id := logbook(t)
	row := state(t, b)
	if row.MethodSetNow != "" {
		t.Fatalf("%+v", row)
	}
	old := row
	old.MethodSet, old.Verdict, old.Line, old.Open = "0.0.9+00000000", "accept", "nothing that needs a person", 0
	old.SketchT = append([]sounding.Number(nil), row.SketchT...)
	old.SketchT[20] += 0.4
	if err := s.PutRow(ctx, old); err != nil {
		t.Fatal(err)
	}
	out, err := b.Outdated(ctx)
	if err != nil || len(out) != 1 || out[0].MethodSet != "0.0.9+00000000" || out[0].MethodSetNow != row.MethodSet {
		t.Fatalf("%+v, %v", out, err)
	}
	var got []workbench.RowEffect
	each := func(e workbench.RowEffect) error { got = append(got, e); return nil }
	if err := b.PreviewToday(ctx, out, each); err != nil {
		t.Fatal(err)
	}
	e := got[0]
	if e.Flight != id || e.Word != workbench.EffectChanges || e.Verdict != [2]string{"accept", row.Verdict} || e.Open != [2]int{0, row.Open} || e.Temperature != -0.4 || e.Release != 0 {
		t.Errorf("%+v", e)
	}
	if now := state(t, b); now.MethodSetNow == "" {
		t.Fatal("looking made the row anew")
	}
	if err := b.Recompute(ctx, out, each); err != nil {
		t.Fatal(err)
	}
	if now := state(t, b); now.MethodSetNow != "" || now.Verdict != row.Verdict || now.Revision != 0 {
		t.Errorf("%+v", now)
	}
}

func settings(t *testing.T, text string) *workbench.Settings {
	t.Helper()
	s, err := workbench.ReadSettings("mine.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}
