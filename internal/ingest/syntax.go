package ingest

import (
	"fmt"
	"sort"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// ungrouped is how many unreadable rows, and how many unreadable values, are named
// one by one before the rest is counted.
const ungrouped = 20

// problem is one thing that could not be read.
type problem struct {
	line, column int // column is the field, from 1; 0 where it is about the line
	name         string
	text         string
	reason       string
	variable     sounding.Variable
	row          int    // row it stands in before ordering, -1 where there is no row
	sentence     string // instead of one made of text and reason
}

// problems collects them: the first ones with their text, of the rest only lines.
type problems struct {
	rows   []problem
	values []problem
	// Rows and values beyond the first ones.
	moreRows   lineSpans
	moreValues map[sounding.Variable]*moreValues
}

type moreValues struct {
	lines lineSpans
	rows  []int
	name  string
}

// lineSpans is a list of runs of source lines, bounded: later runs are counted only.
type lineSpans struct {
	spans   [][2]int
	count   int
	dropped bool
}

func (s *lineSpans) add(line int) {
	s.count++
	if k := len(s.spans) - 1; k >= 0 && line >= s.spans[k][0] && line <= s.spans[k][1]+1 {
		s.spans[k][1] = max(line, s.spans[k][1])
		return
	}
	if len(s.spans) == 12 {
		s.dropped = true
		s.spans[11][1] = max(line, s.spans[11][1])
		return
	}
	s.spans = append(s.spans, [2]int{line, line})
}

func (s *lineSpans) String() string {
	out := ""
	for i, r := range s.spans {
		switch {
		case i > 0 && s.dropped && i == len(s.spans)-1:
			out += " and others up to "
			out += fmt.Sprint(r[1])
			continue
		case i > 0:
			out += ", "
		}
		if r[0] == r[1] {
			out += fmt.Sprint(r[0])
		} else {
			out += fmt.Sprintf("%d to %d", r[0], r[1])
		}
	}
	return out
}

func (p *problems) row(line, column int, name, text, reason string) {
	if len(p.rows) < ungrouped {
		p.rows = append(p.rows, problem{line: line, column: column, name: name, text: shown(text), reason: reason, row: -1})
		return
	}
	p.moreRows.add(line)
}

func (p *problems) value(row, line, column int, name string, v sounding.Variable, text, reason string) {
	if len(p.values) < ungrouped {
		p.values = append(p.values, problem{line: line, column: column, name: name, text: shown(text), reason: reason, variable: v, row: row})
		return
	}
	m := p.moreValues[v]
	if m == nil {
		if p.moreValues == nil {
			p.moreValues = map[sounding.Variable]*moreValues{}
		}
		m = &moreValues{name: name}
		p.moreValues[v] = m
	}
	m.lines.add(line)
	if len(m.rows) < 100_000 {
		m.rows = append(m.rows, row)
	}
}

// note says something about a row that is kept.
func (p *problems) note(row, line int, sentence string) {
	if len(p.values) < ungrouped {
		p.values = append(p.values, problem{line: line, row: row, sentence: sentence})
		return
	}
	p.value(row, line, 0, "", sounding.NoVariable, "", "")
}

// unread returns the number of rows that could not be read.
func (p *problems) unread() int { return len(p.rows) + p.moreRows.count }

// forget drops the values of a row that was taken back after all.
func (p *problems) forget(row int) {
	for len(p.values) > 0 && p.values[len(p.values)-1].row == row {
		p.values = p.values[:len(p.values)-1]
	}
	for _, m := range p.moreValues {
		for len(m.rows) > 0 && m.rows[len(m.rows)-1] == row {
			m.rows = m.rows[:len(m.rows)-1]
			m.lines.count--
		}
	}
}

// findings turns what was collected into findings. now maps a row before ordering to
// its row after; nil where nothing moved.
func (p *problems) findings(now []int) []sounding.Finding {
	at := func(row int) int {
		if now == nil {
			return row
		}
		return now[row]
	}
	var out []sounding.Finding
	for _, r := range p.rows {
		f := lineFinding(quality.Syntax, sounding.Questionable, r.line, r.line)
		f.Sentence = fmt.Sprintf("line %d%s could not be read: %s (%q); the row is left out", r.line, place(r.column, r.name), r.reason, r.text)
		out = append(out, f)
	}
	if n := p.moreRows.count; n > 0 {
		s := &p.moreRows
		f := lineFinding(quality.Syntax, sounding.Questionable, s.spans[0][0], s.spans[len(s.spans)-1][1])
		f.Measured = sounding.Number(n)
		f.Unit = "rows"
		f.Sentence = fmt.Sprintf("%d more rows could not be read and are left out: lines %s", n, s)
		out = append(out, f)
	}
	for _, v := range p.values {
		f := lineFinding(quality.Syntax, sounding.Note, v.line, v.line)
		f.Variable = v.variable
		f.Spans = []sounding.Span{{From: at(v.row), To: at(v.row) + 1}}
		f.Sentence = fmt.Sprintf("line %d%s: %q %s; the value is missing, the rest of the row is kept", v.line, place(v.column, v.name), v.text, v.reason)
		if v.sentence != "" {
			f.Sentence = v.sentence
		}
		out = append(out, f)
	}
	for v := range sounding.NumVariables {
		m := p.moreValues[v]
		if m == nil || m.lines.count <= 0 {
			continue
		}
		rows := make([]int, len(m.rows))
		for i, r := range m.rows {
			rows[i] = at(r)
		}
		sort.Ints(rows)
		f := lineFinding(quality.Syntax, sounding.Note, m.lines.spans[0][0], m.lines.spans[len(m.lines.spans)-1][1])
		f.Variable = v
		f.Spans = rowSpans(rows)
		f.Measured, f.Unit = sounding.Number(m.lines.count), "values"
		if v == sounding.NoVariable {
			f.Unit = "rows"
			f.Sentence = fmt.Sprintf("%d more rows have too few fields, which are missing: lines %s", m.lines.count, &m.lines)
			out = append(out, f)
			continue
		}
		f.Sentence = fmt.Sprintf("%d more values of column %s could not be read and are missing: lines %s", m.lines.count, shown(m.name), &m.lines)
		out = append(out, f)
	}
	return out
}

func place(column int, name string) string {
	switch {
	case column == 0:
		return ""
	case name == "":
		return fmt.Sprintf(", column %d", column)
	}
	return fmt.Sprintf(", column %d (%s)", column, shown(name))
}

// lineFinding is a finding of ingest about lines of the source.
func lineFinding(check quality.Check, severity sounding.Severity, first, last int) sounding.Finding {
	return sounding.Finding{
		Check: check, Severity: severity, Stage: "ingest", FirstLine: first, LastLine: last,
		FirstTime: sounding.NotSet, LastTime: sounding.NotSet, Bottom: sounding.NotSet, Top: sounding.NotSet,
		Measured: sounding.NotSet, Limit: sounding.NotSet,
	}
}

// rowSpans joins sorted rows to runs.
func rowSpans(rows []int) []sounding.Span {
	var out []sounding.Span
	for _, r := range rows {
		if k := len(out) - 1; k >= 0 && r <= out[k].To {
			out[k].To = max(out[k].To, r+1)
			continue
		}
		out = append(out, sounding.Span{From: r, To: r + 1})
	}
	return out
}
