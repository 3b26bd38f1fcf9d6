package check_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leadline/internal/check"
	"leadline/internal/events"
	"leadline/internal/ingest"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// followed is a raw flight after its events: time counted from release.
func followed(raw *sounding.Raw, record *sounding.LaunchRecord, sheet *sounding.InstrumentSheet) (*sounding.Context, *sounding.Columns, []sounding.Finding) {
	ev, findings := events.Find(&raw.Columns, raw.Epoch, record, events.Rulings{}, events.Default())
	c, epoch := raw.Columns, raw.Epoch
	if ev.Release.Found {
		zero := ev.Release.Time.Value()
		c.Time = append([]float64(nil), c.Time...)
		for i := range c.Time {
			c.Time[i] -= zero
		}
		for _, e := range []*sounding.Event{&ev.Release, &ev.Burst, &ev.Top, &ev.Landing} {
			e.Time -= sounding.Number(zero)
		}
		epoch = epoch.Add(time.Duration(zero * 1e9))
	}
	return &sounding.Context{Epoch: epoch, Events: ev, Record: record, Sheet: sheet}, &c, findings
}

func text(list []sounding.Finding) string {
	var b strings.Builder
	for _, f := range list {
		rows := 0
		for _, s := range f.Spans {
			rows += s.Len()
		}
		fmt.Fprintf(&b, "  %-12s %-22s %-14s %5d rows: %s\n", f.Severity, f.Check, f.Variable, rows, f.Sentence)
	}
	return b.String()
}

// flagged returns the share of the present samples of the flight's profile variables
// that are questionable or worse, in per cent.
func flagged(c *sounding.Columns, rep sounding.Report, span sounding.Span) float64 {
	out := c.Flagged(rep)
	present, doubted := 0, 0
	for _, s := range out.Series {
		if !s.Variable.Info().Profile {
			continue
		}
		for _, f := range s.Flags[span.From:span.To] {
			switch f {
			case 3, 4:
				doubted++
				present++
			case 1, 2:
				present++
			}
		}
	}
	if present == 0 {
		return 0
	}
	return 100 * float64(doubted) / float64(present)
}

func TestCleanFlights(t *testing.T) {
	for _, s := range truth.Presets() {
		for seed := uint64(1); seed <= 3; seed++ {
			f, err := truth.Simulate(s, seed)
			if err != nil {
				t.Fatal(err)
			}
			ctx, c, found := followed(f.Raw(), f.Record, s.Sheet)
			rep := check.Raw(ctx, c, check.Default())
			share := flagged(c, rep, ctx.Events.Ascent())
			t.Logf("%s, seed %d: release off by %+.2f s ± %.2f, burst off by %+.2f s; %.3f %% flagged\n%s%s", s.Name, seed,
				ctx.Epoch.Sub(f.Truth.UTC(f.Truth.Release)).Seconds(), ctx.Events.Release.Uncertainty, ctx.Events.Burst.UTC.Sub(f.Truth.UTC(f.Truth.Burst)).Seconds(),
				share, text(found), text(rep.Findings))
		}
	}
}

func TestOpenFlights(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	recipe, _, err := ingest.ShippedRecipe("cf")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		h, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := ingest.Read(context.Background(), filepath.Base(name), h, recipe, ingest.Options{})
		h.Close()
		if err != nil {
			t.Fatal(err)
		}
		ctx, c, found := followed(raw, raw.Record, nil)
		rep := check.Raw(ctx, c, check.Default())
		t.Logf("%s: %d rows, %.3f %% flagged; release %v by %s\n%s%s", filepath.Base(name), c.Len(), flagged(c, rep, ctx.Events.Ascent()), ctx.Events.Release.UTC, ctx.Events.Release.Method, text(found), text(rep.Findings))
	}
}
