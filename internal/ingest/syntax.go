package ingest

import (
	"fmt"
	"sort"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// ungrouped is how many unreadable rows, and how many unreadable values, are kept
// with their text before the rest is counted.
const ungrouped = 20

// oneByOne is how many problems of one kind are findings of their own: a person has to
// settle each. More are one finding that lists the lines and quotes the first.
const oneByOne = 3

// problem is one thing that could not be read.
type problem struct {
	line, column int // column is the field, from 1; 0 where it is about the line
	name         string
	text         string
	reason       string
	variable     sounding.Variable
	row          int    // row it stands in before ordering, -1 where there is no row
	sentence     string // instead of one made of text and reason
	short        bool   // a row with too few fields
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

// join adds runs that come after the ones held.
func (s *lineSpans) join(later *lineSpans) {
	count := s.count + later.count
	for _, r := range later.spans {
		s.add(r[0])
		s.spans[len(s.spans)-1][1] = max(s.spans[len(s.spans)-1][1], r[1])
	}
	s.count, s.dropped = count, s.dropped || later.dropped
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

// note says something about a row that is kept; short says that it has too few fields.
func (p *problems) note(row, line int, short bool, sentence string) {
	if len(p.values) < ungrouped {
		p.values = append(p.values, problem{line: line, row: row, sentence: sentence, short: short})
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
	out := p.rowFindings()
	var lists [sounding.NumVariables]valueList
	for _, v := range p.values {
		if v.sentence == "" || v.short {
			lists[v.variable].count++
		}
	}
	for v := range lists {
		if m := p.moreValues[sounding.Variable(v)]; m != nil {
			lists[v].count += m.lines.count
		}
	}
	for _, v := range p.values {
		if l := &lists[v.variable]; (v.sentence == "" || v.short) && l.count > oneByOne {
			l.take(v)
			continue
		}
		f := lineFinding(quality.Syntax, sounding.Note, v.line, v.line)
		f.Variable = v.variable
		f.Spans = []sounding.Span{{From: at(v.row), To: at(v.row) + 1}}
		f.Sentence = v.words()
		out = append(out, f)
	}
	for i := range lists {
		v, l := sounding.Variable(i), &lists[i]
		if m := p.moreValues[v]; m != nil {
			if l.name == "" {
				l.name = m.name
			}
			l.lines.join(&m.lines)
			l.rows = append(l.rows, m.rows...)
		}
		if l.count <= oneByOne && l.lines.count <= 0 {
			continue
		}
		rows := make([]int, len(l.rows))
		for i, r := range l.rows {
			rows[i] = at(r)
		}
		sort.Ints(rows)
		f := lineFinding(quality.Syntax, sounding.Note, l.lines.spans[0][0], l.lines.spans[len(l.lines.spans)-1][1])
		f.Variable = v
		f.Spans = rowSpans(rows)
		f.Measured, f.Unit = sounding.Number(l.lines.count), "values"
		f.Sentence = fmt.Sprintf("%d values of column %s could not be read and are missing: lines %s", l.lines.count, shown(l.name), &l.lines)
		if v == sounding.NoVariable {
			f.Unit = "rows"
			f.Sentence = fmt.Sprintf("%d rows have too few fields, which are missing: lines %s", l.lines.count, &l.lines)
		}
		if l.first != "" {
			f.Sentence += "; " + l.first
		}
		out = append(out, f)
	}
	return out
}

// rowFindings are those about rows that are left out.
func (p *problems) rowFindings() []sounding.Finding {
	var out []sounding.Finding
	if n := p.unread(); n > oneByOne {
		lines := lineSpans{}
		for _, r := range p.rows {
			lines.add(r.line)
		}
		lines.join(&p.moreRows)
		f := lineFinding(quality.Syntax, sounding.Questionable, lines.spans[0][0], lines.spans[len(lines.spans)-1][1])
		f.Measured, f.Unit = sounding.Number(n), "rows"
		f.Sentence = fmt.Sprintf("%d rows could not be read and are left out: lines %s; line %d%s: %s (%q)", n, &lines, p.rows[0].line, place(p.rows[0].column, p.rows[0].name), p.rows[0].reason, p.rows[0].text)
		return append(out, f)
	}
	for _, r := range p.rows {
		f := lineFinding(quality.Syntax, sounding.Questionable, r.line, r.line)
		f.Sentence = fmt.Sprintf("line %d%s could not be read: %s (%q); the row is left out", r.line, place(r.column, r.name), r.reason, r.text)
		out = append(out, f)
	}
	return out
}

// valueList gathers the unreadable values of one variable, or the rows that are too
// short, when there are more than a few.
type valueList struct {
	count int
	lines lineSpans
	rows  []int
	name  string
	first string
}

func (l *valueList) take(v problem) {
	l.lines.add(v.line)
	l.rows = append(l.rows, v.row)
	if l.first == "" {
		l.name, l.first = v.name, v.words()
	}
}

// words say what is wrong with a value, or with a row that is kept.
func (v *problem) words() string {
	if v.sentence != "" {
		return v.sentence
	}
	return fmt.Sprintf("line %d%s: %q %s; the value is missing, the rest of the row is kept", v.line, place(v.column, v.name), v.text, v.reason)
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
