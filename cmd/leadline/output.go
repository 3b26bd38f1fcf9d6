package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"leadline/internal/sounding"
)

// printJSON writes v with indents, one value to the output.
func (p *program) printJSON(v any) error {
	e := json.NewEncoder(p.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// plural returns a word as it stands after n.
func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}

// shape is the verdict's sign, so that it never depends on colour.
func shape(verdict string) string {
	switch verdict {
	case sounding.Accept:
		return "○"
	case sounding.Look:
		return "△"
	case sounding.Refuse:
		return "✕"
	}
	return "?"
}

// table prints rows in columns; a column whose head starts with ">" is set to the right.
func table(w io.Writer, head []string, rows [][]string) {
	width := make([]int, len(head))
	right := make([]bool, len(head))
	for i, h := range head {
		right[i] = strings.HasPrefix(h, ">")
		head[i] = strings.TrimPrefix(h, ">")
		width[i] = utf8.RuneCountInString(head[i])
	}
	for _, r := range rows {
		for i := range head {
			width[i] = max(width[i], utf8.RuneCountInString(r[i]))
		}
	}
	line := func(cells []string) {
		var b strings.Builder
		for i, c := range cells {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			switch {
			case right[i]:
				b.WriteString(pad + c)
			case i == len(cells)-1:
				b.WriteString(c)
			default:
				b.WriteString(c + pad)
			}
			if i < len(cells)-1 {
				b.WriteString("  ")
			}
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
	line(head)
	for _, r := range rows {
		line(r)
	}
}

// plain takes control characters out of text that came from a file, so that it cannot
// drive the terminal.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return '·'
		}
		return r
	}, s)
}

// wrap breaks a text into lines of at most width runes, with indent before each but the first.
func wrap(s string, width int, indent string) string {
	var b strings.Builder
	n := 0
	for i, word := range strings.Fields(s) {
		l := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case n+1+l > width:
			b.WriteString("\n" + indent)
			n = utf8.RuneCountInString(indent)
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(word)
		n += l
	}
	return b.String()
}

// figure formats a number with decimals, "–" where it is not set.
func figure(n sounding.Number, decimals int) string {
	if !n.Set() {
		return "–"
	}
	return fmt.Sprintf("%.*f", decimals, n.Value())
}

// celsius formats a temperature in °C.
func celsius(n sounding.Number, decimals int) string {
	return figure(sounding.Number(n.Value()-273.15), decimals)
}

func utcTime(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return t.UTC().Format("2006-01-02 15:04:05")
}

// progress draws one line on a terminal while long work goes on, and nothing elsewhere.
type progress struct {
	w     io.Writer
	total int
	done  int
	start time.Time
	now   func() time.Time
}

// newProgress returns nil, which draws nothing, where errors do not go to a terminal.
func (p *program) newProgress(total int) *progress {
	f, ok := p.err.(*os.File)
	if p.quiet || p.json || !ok || total < 2 {
		return nil
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return nil
	}
	return &progress{w: p.err, total: total, start: p.now(), now: p.now}
}

func (g *progress) step(what string) {
	if g == nil {
		return
	}
	g.done++
	const bar = 24
	full := bar * g.done / g.total
	left := ""
	if spent := g.now().Sub(g.start); g.done < g.total && spent > time.Second {
		rest := time.Duration(float64(spent) * float64(g.total-g.done) / float64(g.done))
		left = fmt.Sprintf(", %.0f s left", math.Ceil(rest.Seconds()))
	}
	fmt.Fprintf(g.w, "\r\x1b[K%s%s %d of %d%s  %s", strings.Repeat("█", full), strings.Repeat("░", bar-full), g.done, g.total, left, plain(what))
	if g.done == g.total {
		fmt.Fprint(g.w, "\r\x1b[K")
	}
}
