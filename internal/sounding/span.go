package sounding

// Span is a run of rows [From, To): To is the first row after it.
type Span struct {
	From int `json:"from_row"`
	To   int `json:"to_row"`
}

// Len returns the number of rows.
func (s Span) Len() int { return max(0, s.To-s.From) }

// Contains tells whether row i is in the span.
func (s Span) Contains(i int) bool { return i >= s.From && i < s.To }

// Clip returns the part of s inside t.
func (s Span) Clip(t Span) Span {
	c := Span{max(s.From, t.From), min(s.To, t.To)}
	if c.To < c.From {
		c.To = c.From
	}
	return c
}

// Spans returns the runs of true in mask, joining runs that are at most join rows apart.
func Spans(mask []bool, join int) []Span {
	var out []Span
	for i := 0; i < len(mask); i++ {
		if !mask[i] {
			continue
		}
		j := i
		for j < len(mask) && mask[j] {
			j++
		}
		if k := len(out) - 1; k >= 0 && i-out[k].To <= join {
			out[k].To = j
		} else {
			out = append(out, Span{i, j})
		}
		i = j
	}
	return out
}
