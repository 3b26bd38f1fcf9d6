package workbench

import "leadline/internal/indices"

// Indices reads what forecasters want to know off the flight's ascent, with the
// uncertainty of each number. It is computed when asked for, not with the path: 500
// members take longer than all the rest.
func (o *Outcome) Indices() indices.Set {
	return indices.Find(o.Final, &o.Levels, &o.Settings.Indices)
}
