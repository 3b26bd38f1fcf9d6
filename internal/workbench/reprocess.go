package workbench

import (
	"context"
	"errors"
	"math"
	"time"

	"leadline/internal/sounding"
)

// RowEffect is what the methods of today make of a flight whose line in the logbook was
// made by others: an older version of the program. The older values are not kept, only what
// the line said of them.
type RowEffect struct {
	Flight    string             `json:"flight"`
	Name      string             `json:"name"`
	Revision  int                `json:"revision"`
	Word      string             `json:"effect"` // changes, no effect or cannot
	Why       string             `json:"why,omitempty"`
	MethodSet [2]string          `json:"method_set"` // of the line, of today
	Signed    string             `json:"signed,omitempty"`
	Verdict   [2]string          `json:"verdict"`
	Line      [2]string          `json:"line"`
	Open      [2]int             `json:"open"`      // findings
	Release   sounding.Number    `json:"release_s"` // after minus before; null where one of them has none
	Top       [2]sounding.Number `json:"top_m_msl"`
	// Largest differences on the 60 heights of the sketches, which are rounded to 0.1 K and 0.1 %.
	Temperature sounding.Number `json:"temperature_k"`
	Humidity    sounding.Number `json:"humidity_pct"`
}

// Outdated returns the rows of flights that were last computed under another method set
// than the one that holds today, in the order of the logbook.
func (b *Bench) Outdated(ctx context.Context) ([]Row, error) {
	all, err := b.Rows(ctx)
	if err != nil {
		return nil, err
	}
	out := []Row{}
	for _, r := range all {
		if r.MethodSetNow != "" {
			out = append(out, r)
		}
	}
	return out, nil
}

// PreviewToday computes what the methods of today make of flights, and hands the effects on
// in the order of rows. Nothing is stored.
func (b *Bench) PreviewToday(ctx context.Context, rows []Row, each func(RowEffect) error) error {
	return b.today(ctx, rows, false, each)
}

// Recompute makes the rows of flights anew by the methods of today, and says what changed.
// Decisions, signatures and settings stay as they are.
func (b *Bench) Recompute(ctx context.Context, rows []Row, each func(RowEffect) error) error {
	return b.today(ctx, rows, true, each)
}

func (b *Bench) today(ctx context.Context, rows []Row, keep bool, each func(RowEffect) error) error {
	ids, was := make([]string, len(rows)), map[string]Row{}
	for i, r := range rows {
		ids[i], was[r.ID] = r.ID, r
	}
	return EachFlight(ctx, ids, 0, func(ctx context.Context, id string) (RowEffect, error) {
		f, err := b.store.Flight(ctx, id)
		if err != nil {
			return RowEffect{}, err
		}
		o := b.recall(id, f.Revision)
		if o == nil {
			if o, err = openStored(f); err != nil {
				return RowEffect{}, err
			}
		}
		now := rowOf(o, id, f.Revision)
		if keep {
			if err := b.store.PutRow(ctx, now); err != nil {
				return RowEffect{}, err
			}
		}
		return rowEffect(was[id], now), nil
	}, func(_ int, id string, e RowEffect, err error) error {
		if err != nil {
			if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
				return err
			}
			r := was[id]
			e = RowEffect{Flight: id, Name: r.Name, Revision: r.Revision, Word: EffectCannot, Why: err.Error(), MethodSet: [2]string{r.MethodSet, r.MethodSetNow},
				Verdict: [2]string{r.Verdict, ""}, Line: [2]string{r.Line, ""}, Open: [2]int{r.Open, 0}, Release: sounding.NotSet,
				Top: [2]sounding.Number{r.Top, sounding.NotSet}, Temperature: sounding.NotSet, Humidity: sounding.NotSet}
		}
		return each(e)
	})
}

func rowEffect(was, now Row) RowEffect {
	e := RowEffect{Flight: now.ID, Name: now.Name, Revision: now.Revision, Word: EffectNone, MethodSet: [2]string{was.MethodSet, now.MethodSet}, Signed: now.Signer,
		Verdict: [2]string{was.Verdict, now.Verdict}, Line: [2]string{was.Line, now.Line}, Open: [2]int{was.Open, now.Open}, Release: sounding.NotSet,
		Top: [2]sounding.Number{was.Top, now.Top}, Temperature: largestOf(was.SketchT, now.SketchT), Humidity: largestOf(was.SketchRH, now.SketchRH)}
	if !was.Release.IsZero() && !now.Release.IsZero() {
		e.Release = sounding.Number(now.Release.Sub(was.Release).Round(time.Millisecond).Seconds())
	}
	moved := func(n sounding.Number) bool { return n.Set() && n != 0 }
	if e.Verdict[0] != e.Verdict[1] || e.Line[0] != e.Line[1] || e.Open[0] != e.Open[1] || moved(e.Release) || was.Release.IsZero() != now.Release.IsZero() ||
		differ(was.Top, now.Top) || moved(e.Temperature) || moved(e.Humidity) {
		e.Word = EffectChanges
	}
	return e
}

// largestOf is the difference farthest from zero, b minus a; not set where they have no
// height in common.
func largestOf(a, b []sounding.Number) sounding.Number {
	out := sounding.NotSet
	for i := range min(len(a), len(b)) {
		d := sounding.Number(math.Round((b[i].Value()-a[i].Value())*10) / 10)
		if d.Set() && (!out.Set() || math.Abs(d.Value()) > math.Abs(out.Value())) {
			out = d
		}
	}
	return out
}
