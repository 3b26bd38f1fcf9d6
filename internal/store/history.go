package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// history reads every step of a flight in order, those that take back or put back a
// decision completed with it.
func history(ctx context.Context, q queryer, flight int64) ([]workbench.Ruling, error) {
	rows, err := q.QueryContext(ctx, "select revision, kind, decision, json from ruling where flight = ? order by revision", flight)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []workbench.Ruling
	for rows.Next() {
		var r workbench.Ruling
		var text string
		if err := rows.Scan(&r.Revision, &r.Kind, &r.ID, &text); err != nil {
			return nil, err
		}
		switch r.Kind {
		case workbench.RulingDecision:
			var d sounding.Decision
			err = json.Unmarshal([]byte(text), &d)
			r.Who, r.Reason, r.When, r.Decision = d.Who, d.Reason, d.When, &d
		case workbench.RulingSignature:
			var s sounding.Signature
			err = json.Unmarshal([]byte(text), &s)
			r.Who, r.Reason, r.When, r.Signature = s.Who, s.Note, s.When, &s
		default:
			var said sounding.Revoked
			err = json.Unmarshal([]byte(text), &said)
			r.Who, r.Reason, r.When, r.Group = said.Who, said.Reason, said.When, said.Group
		}
		if err != nil {
			return nil, fmt.Errorf("step %d of its history, a %s: %w", r.Revision, r.Kind, err)
		}
		out = append(out, r)
	}
	workbench.Replay(out)
	return out, rows.Err()
}

// addition is what is added to a history: what it is about and what is written of it.
type addition struct {
	decision string
	body     any
}

// Decide implements workbench.Store.
func (s *Store) Decide(ctx context.Context, id string, d sounding.Decision, expected int) (sounding.Decision, int, error) {
	revision, err := s.add(ctx, id, workbench.RulingDecision, expected, func(now *workbench.Standing) (addition, error) {
		d.ID, d.Revoked = fmt.Sprintf("d%d", len(now.Decisions)+1), nil
		return addition{d.ID, d}, nil
	})
	return d, revision, err
}

// Revoke implements workbench.Store.
func (s *Store) Revoke(ctx context.Context, id, decision string, r sounding.Revoked, expected int) (int, error) {
	return s.add(ctx, id, workbench.RulingRevocation, expected, func(now *workbench.Standing) (addition, error) {
		for _, d := range now.Decisions {
			if d.ID != decision {
				continue
			}
			if d.Revoked != nil {
				return addition{}, &workbench.RefusedError{Sentence: fmt.Sprintf("decision %s of flight %s has been taken back already, by %s: %s", decision, id, d.Revoked.Who, d.Revoked.Reason)}
			}
			return addition{decision, r}, nil
		}
		return addition{}, &workbench.RefusedError{Sentence: fmt.Sprintf("flight %s has no decision %s", id, decision)}
	})
}

// Undo implements workbench.Store.
func (s *Store) Undo(ctx context.Context, id string, r sounding.Revoked, expected int) (string, int, error) {
	var decision string
	revision, err := s.add(ctx, id, workbench.RulingUndo, expected, func(now *workbench.Standing) (addition, error) {
		if decision = now.Undo; decision == "" {
			return addition{}, &workbench.RefusedError{Sentence: fmt.Sprintf("flight %s has no decision in force: there is nothing to undo", id)}
		}
		return addition{decision, r}, nil
	})
	return decision, revision, err
}

// Redo implements workbench.Store.
func (s *Store) Redo(ctx context.Context, id string, r sounding.Revoked, expected int) (string, int, error) {
	var decision string
	revision, err := s.add(ctx, id, workbench.RulingRedo, expected, func(now *workbench.Standing) (addition, error) {
		if decision = now.Redo; decision == "" {
			return addition{}, &workbench.RefusedError{Sentence: fmt.Sprintf("flight %s: there is nothing to redo: no decision was taken back, or something was decided since", id)}
		}
		return addition{decision, r}, nil
	})
	return decision, revision, err
}

// Sign implements workbench.Store.
func (s *Store) Sign(ctx context.Context, id string, signature sounding.Signature, expected int) (int, error) {
	return s.add(ctx, id, workbench.RulingSignature, expected, func(*workbench.Standing) (addition, error) {
		if signature.Digest == "" {
			return addition{}, &workbench.RefusedError{Sentence: fmt.Sprintf("flight %s is not signed: the signature does not say what was signed", id)}
		}
		signature.Revision = expected
		return addition{"", signature}, nil
	})
}

// Reopen implements workbench.Store.
func (s *Store) Reopen(ctx context.Context, id string, r sounding.Reopening, expected int) (int, error) {
	return s.add(ctx, id, workbench.RulingReopening, expected, func(*workbench.Standing) (addition, error) {
		return addition{"", r}, nil
	})
}

// add appends one step to a flight's history in a transaction of its own.
func (s *Store) add(ctx context.Context, id string, kind workbench.RulingKind, expected int, make func(now *workbench.Standing) (addition, error)) (int, error) {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer tx.Rollback()
	revision, err := addWithin(ctx, tx, id, kind, expected, make)
	if err != nil {
		return revision, err
	}
	return revision, tx.Commit()
}

// addWithin appends one step to a flight's history if the flight is not locked against it
// and still stands at revision expected: the one place through which a history grows. It
// returns the flight's revision after it, or the current one with the error.
func addWithin(ctx context.Context, tx *sql.Tx, id string, kind workbench.RulingKind, expected int, make func(now *workbench.Standing) (addition, error)) (int, error) {
	n, err := number(id)
	if err != nil {
		return 0, err
	}
	var current int
	if err := tx.QueryRowContext(ctx, "select revision from flight where id = ?", n).Scan(&current); err != nil {
		if errors.Is(err, sql.ErrNoRows) {
			return 0, fmt.Errorf("flight %s: %w", id, workbench.ErrNoFlight)
		}
		return 0, err
	}
	steps, err := history(ctx, tx, n)
	if err != nil {
		return current, fmt.Errorf("flight %s: %w", id, err)
	}
	now := workbench.Replay(steps)
	if err := now.Admit(id, kind); err != nil {
		return current, err
	}
	if current != expected {
		stale := &workbench.StaleError{Flight: id, Expected: expected, Current: current}
		for _, r := range steps {
			if r.Revision > expected {
				stale.Since = append(stale.Since, r)
			}
		}
		return current, stale
	}
	step, err := make(&now)
	if err != nil {
		return current, err
	}
	text, err := json.Marshal(step.body)
	if err != nil {
		return current, err
	}
	if _, err := tx.ExecContext(ctx, "insert into ruling (flight, revision, kind, decision, json) values (?, ?, ?, ?, ?)", n, current+1, kind, step.decision, string(text)); err != nil {
		return current, err
	}
	if _, err := tx.ExecContext(ctx, "update flight set revision = ? where id = ?", current+1, n); err != nil {
		return current, err
	}
	return current + 1, nil
}
