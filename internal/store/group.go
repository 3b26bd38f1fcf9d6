package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// chosen returns the texts of the instrument sheets or settings files that decisions of an
// action name, each once.
func (s *Store) chosen(ctx context.Context, q queryer, action sounding.Action, decisions []sounding.Decision) ([]workbench.Blob, error) {
	var out []workbench.Blob
	known := map[string]bool{}
	for _, d := range decisions {
		if d.Action != action || known[d.Field] {
			continue
		}
		known[d.Field] = true
		name := d.Value
		if action == sounding.ActChooseSheet {
			name += ".toml"
		}
		b, err := s.blob(ctx, q, name, d.Field)
		if errors.Is(err, sql.ErrNoRows) {
			continue // the run says that it is not at hand
		}
		if err != nil {
			return nil, err
		}
		if len(b.Bytes) > 0 { // of the shipped settings there are none
			out = append(out, b)
		}
	}
	return out, nil
}

// DecideGroup implements workbench.Store.
func (s *Store) DecideGroup(ctx context.Context, g workbench.Group, texts []workbench.Blob, flights []workbench.GroupAddition) (workbench.Group, error) {
	packed := make([]packedBlob, len(texts))
	for i, b := range texts {
		var err error
		if packed[i], err = s.prepare(b); err != nil {
			return g, err
		}
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return g, err
	}
	defer tx.Rollback()
	for _, b := range packed {
		if err := b.put(ctx, tx); err != nil {
			return g, err
		}
	}
	g.Parts, g.Revoked, g.ID = nil, nil, ""
	text, err := json.Marshal(g)
	if err != nil {
		return g, err
	}
	result, err := tx.ExecContext(ctx, "insert into decision_group (json) values (?)", string(text))
	if err != nil {
		return g, err
	}
	n, err := result.LastInsertId()
	if err != nil {
		return g, err
	}
	g.ID, g.Revoked = groupID(n), []workbench.GroupRevocation{}
	err = s.toEach(ctx, tx, flights, func(flight int64, a workbench.GroupAddition) error {
		for i, d := range a.Decisions {
			d.Group = g.ID
			_, err := addWithin(ctx, tx, a.Flight, workbench.RulingDecision, a.Revision+i, func(now *workbench.Standing) (addition, error) {
				if id := fmt.Sprintf("d%d", len(now.Decisions)+1); d.ID != id {
					return addition{}, fmt.Errorf("flight %s: its next decision is %s, not %s", a.Flight, id, d.ID)
				}
				d.Revoked = nil
				return addition{d.ID, d}, nil
			})
			if err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, "insert into member (decision_group, flight, decision) values (?, ?, ?)", n, flight, d.ID); err != nil {
				return err
			}
			g.Parts = append(g.Parts, workbench.GroupPart{Flight: a.Flight, Decision: d.ID, InForce: true})
		}
		return nil
	})
	if err != nil {
		return g, err
	}
	return g, tx.Commit()
}

// toEach adds something to the history of each flight and replaces its row. Every flight
// that refuses it is named in one *GroupError.
func (s *Store) toEach(ctx context.Context, tx *sql.Tx, flights []workbench.GroupAddition, add func(flight int64, a workbench.GroupAddition) error) error {
	var refused []workbench.GroupRefusal
	for _, a := range flights {
		n, err := number(a.Flight)
		if err == nil {
			err = add(n, a)
		}
		var stale *workbench.StaleError
		var signed *workbench.SignedError
		var no *workbench.RefusedError
		switch {
		case errors.As(err, &stale), errors.As(err, &signed), errors.As(err, &no), errors.Is(err, workbench.ErrNoFlight):
			refused = append(refused, workbench.GroupRefusal{Flight: a.Flight, Why: err.Error()})
		case err != nil:
			return err
		default:
			if err := putRow(ctx, tx, n, a.Row); err != nil {
				return err
			}
		}
	}
	if len(refused) > 0 {
		return &workbench.GroupError{Flights: refused}
	}
	return nil
}

// RevokeGroup implements workbench.Store.
func (s *Store) RevokeGroup(ctx context.Context, id string, r sounding.Revoked, flights []workbench.GroupAddition) error {
	n, err := groupNumber(id)
	if err != nil {
		return err
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	r.Group = id
	err = s.toEach(ctx, tx, flights, func(_ int64, a workbench.GroupAddition) error {
		for i, d := range a.Decisions {
			_, err := addWithin(ctx, tx, a.Flight, workbench.RulingRevocation, a.Revision+i, func(now *workbench.Standing) (addition, error) {
				for _, made := range now.Decisions {
					if made.ID != d.ID {
						continue
					}
					if made.Group != id || made.Revoked != nil {
						return addition{}, &workbench.RefusedError{Sentence: fmt.Sprintf("flight %s: decision %s is no part of %s in force", a.Flight, d.ID, id)}
					}
					return addition{d.ID, r}, nil
				}
				return addition{}, &workbench.RefusedError{Sentence: fmt.Sprintf("flight %s has no decision %s", a.Flight, d.ID)}
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	text, err := json.Marshal(r)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `insert into group_revocation (decision_group, position, flights, json)
		select ?1, count(*), ?2, ?3 from group_revocation where decision_group = ?1`, n, len(flights), string(text)); err != nil {
		return err
	}
	return tx.Commit()
}

// Groups implements workbench.Store.
func (s *Store) Groups(ctx context.Context) ([]workbench.Group, error) {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	out := []workbench.Group{}
	at := map[int64]int{}
	rows, err := tx.QueryContext(ctx, "select id, json from decision_group order by id desc")
	if err != nil {
		return nil, err
	}
	for rows.Next() {
		var n int64
		var text string
		g := workbench.Group{}
		err := rows.Scan(&n, &text)
		if err == nil {
			err = json.Unmarshal([]byte(text), &g)
		}
		if err != nil {
			rows.Close()
			return nil, fmt.Errorf("group %s: %w", groupID(n), err)
		}
		g.ID, g.Parts, g.Revoked = groupID(n), []workbench.GroupPart{}, []workbench.GroupRevocation{}
		at[n] = len(out)
		out = append(out, g)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return nil, err
	}
	// What was done last about a decision tells whether it is in force.
	rows, err = tx.QueryContext(ctx, `select m.decision_group, m.flight, m.decision,
		(select r.kind from ruling r where r.flight = m.flight and r.decision = m.decision order by r.revision desc limit 1)
		from member m order by m.decision_group, m.flight, m.decision`)
	if err != nil {
		return nil, err
	}
	for rows.Next() {
		var n, flight int64
		var p workbench.GroupPart
		var last workbench.RulingKind
		if err := rows.Scan(&n, &flight, &p.Decision, &last); err != nil {
			rows.Close()
			return nil, err
		}
		p.Flight, p.InForce = strconv.FormatInt(flight, 10), last == workbench.RulingDecision || last == workbench.RulingRedo
		out[at[n]].Parts = append(out[at[n]].Parts, p)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return nil, err
	}
	rows, err = tx.QueryContext(ctx, "select decision_group, flights, json from group_revocation order by decision_group, position")
	if err != nil {
		return nil, err
	}
	for rows.Next() {
		var n int64
		var text string
		var r workbench.GroupRevocation
		err := rows.Scan(&n, &r.Flights, &text)
		if err == nil {
			err = json.Unmarshal([]byte(text), &r.Revoked)
		}
		if err != nil {
			rows.Close()
			return nil, fmt.Errorf("revocation of group %s: %w", groupID(n), err)
		}
		out[at[n]].Revoked = append(out[at[n]].Revoked, r)
	}
	return out, errors.Join(rows.Err(), rows.Close())
}

func groupID(n int64) string { return "g" + strconv.FormatInt(n, 10) }

func groupNumber(id string) (int64, error) {
	n, err := strconv.ParseInt(strings.TrimPrefix(id, "g"), 10, 64)
	if err != nil || !strings.HasPrefix(id, "g") {
		return 0, &workbench.RefusedError{Sentence: fmt.Sprintf("the logbook has no group %q", id)}
	}
	return n, nil
}
