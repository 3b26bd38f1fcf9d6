package main

import (
	"fmt"
	"os"
	"strings"
	"sync"
	"time"

	"leadline/internal/follow"
	"leadline/internal/sounding"
)

// followView shows a flight that is followed: on a terminal four large lines that are drawn
// anew every second, elsewhere one line for each thing that happens, or JSON.
type followView struct {
	p      *program
	large  bool
	mu     sync.Mutex
	notes  []string // shown above the large lines
	last   *follow.State
	status time.Time // of the last line about how it stands
}

func (p *program) newFollowView() *followView {
	v := &followView{p: p}
	if f, ok := p.out.(*os.File); ok && !p.json && !p.quiet {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			v.large = true
			fmt.Fprint(p.out, "\x1b[2J")
		}
	}
	return v
}

// note says something that is not an event of the flight.
func (v *followView) note(s string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	switch {
	case v.large:
		v.notes = append(v.notes, s)
	case v.p.json:
		fmt.Fprintln(v.p.err, s)
	default:
		fmt.Fprintln(v.p.out, s)
	}
}

func (v *followView) tell(e follow.Event) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if e.State != nil {
		v.last = e.State
	}
	if v.p.json {
		eventLine(v.p.out, e)
		return
	}
	if v.large {
		if e.Event == follow.EventAlarm {
			fmt.Fprint(v.p.out, "\a")
		}
		v.draw()
		return
	}
	at := e.UTC.UTC().Format("15:04:05")
	switch e.Event {
	case follow.EventState:
		// How it stands, once a minute of the flight.
		if s := e.State; s.Rows > 0 && (v.status.IsZero() || s.Now.Sub(v.status) >= time.Minute) && s.Ended == nil {
			v.status = s.Now
			fmt.Fprintf(v.p.out, "%s  %s\n", s.Now.Format("15:04:05"), statusLine(s))
		}
	case follow.EventAlarm:
		fmt.Fprintf(v.p.out, "%s  ALARM  %s\n", at, plain(e.Sentence))
	case follow.EventOver:
		fmt.Fprintf(v.p.out, "%s  over   %s\n", at, plain(e.Sentence))
	case follow.EventFlight:
		for _, l := range endedLines(e.Ended) {
			fmt.Fprintln(v.p.out, l)
		}
	default:
		fmt.Fprintf(v.p.out, "%s  %s\n", at, plain(e.Sentence))
	}
}

// close leaves the terminal with how the flight ended.
func (v *followView) close() {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.large {
		v.large = false
		fmt.Fprintln(v.p.out)
	}
}

func endedLines(e *follow.Ended) []string {
	out := []string{"The flight is over: " + plain(e.Why) + "."}
	if e.Error != "" {
		out = append(out, "It is not in the logbook: "+plain(e.Error)+".")
	}
	for _, f := range e.Flights {
		word, line, _ := strings.Cut(f.Line, ": ")
		known := ""
		if f.Known != "" {
			known = " (was there already: " + f.Known + ")"
		}
		out = append(out, fmt.Sprintf("%s  %s  %s %s: %s%s", f.ID, plain(f.Name), shape(word), word, plain(line), known))
	}
	return out
}

func statusLine(s *follow.State) string {
	parts := []string{fmt.Sprintf("%s km", figure(s.Height/1000, 2)), fmt.Sprintf("%s m/s", figure(s.Rate, 1)), fmt.Sprintf("%s hPa", figure(s.Pressure, 1)),
		"last data " + ageWords(s.Age) + " ago"}
	if s.Burst.Known && !s.Burst.Happened {
		parts = append(parts, "burst in "+countdown(s.Burst.In))
	}
	if s.Landing.Known && !s.Landing.Happened {
		parts = append(parts, landingWords(&s.Landing))
	}
	return strings.Join(parts, ", ")
}

func landingWords(l *follow.Landing) string {
	return fmt.Sprintf("landing about %.4f %.4f, %s km towards %s° of the release point", l.Place.Latitude, l.Place.Longitude, figure(l.Distance/1000, 0), figure(l.Bearing, 0))
}

func ageWords(n sounding.Number) string {
	switch {
	case !n.Set():
		return "–"
	case n < 100:
		return fmt.Sprintf("%.0f s", n.Value())
	case n < 6000:
		return fmt.Sprintf("%.0f min", n.Value()/60)
	}
	return fmt.Sprintf("%.1f h", n.Value()/3600)
}

// countdown writes seconds as minutes and seconds, or hours and minutes.
func countdown(n sounding.Number) string {
	if !n.Set() {
		return "–"
	}
	s := int(n.Value() + 0.5)
	if s >= 2*3600 {
		return fmt.Sprintf("%d h %02d", s/3600, s%3600/60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// draw draws everything anew without clearing first, so that nothing flickers.
func (v *followView) draw() {
	s := v.last
	if s == nil {
		return
	}
	var b strings.Builder
	b.WriteString("\x1b[H")
	line := func(text string) { b.WriteString(text + "\x1b[K\r\n") }
	for _, n := range v.notes {
		line(plain(n))
	}
	line(fmt.Sprintf("%s   %s UTC   %s", plain(s.Name), s.Now.Format("15:04:05"), plain(s.Sentence)))
	line("")
	in := "–"
	if s.Burst.Known && !s.Burst.Happened {
		in = countdown(s.Burst.In)
	}
	unit := "min:s"
	if strings.Contains(in, "h") {
		in, unit = strings.Replace(in, " h ", ":", 1), "h:min"
	}
	age, ageUnit, _ := strings.Cut(ageWords(s.Age), " ")
	for _, l := range []struct{ label, value, unit string }{
		{"height", figure(s.Height/1000, 2), "km"}, {"ascent rate", figure(s.Rate, 1), "m/s"},
		{"last data", age, ageUnit + " ago"}, {"burst in", in, unit},
	} {
		rows := largeText(l.value)
		for i, r := range rows {
			label, unit := "", ""
			if i == 1 {
				label, unit = l.label, l.unit
			}
			line(fmt.Sprintf("  %-12s %s  %s", label, r, unit))
		}
		line("")
	}
	line("  " + wrap(plain(s.Summary), 96, "  "))
	if s.Unread != "" {
		line("  " + wrap("not readable yet: "+plain(s.Unread), 96, "  "))
	}
	if s.Landing.Known {
		line("  " + landingWords(&s.Landing))
	}
	line("")
	for i, a := range s.Alarms {
		if i == 6 {
			break
		}
		word, text := "ALARM", a.Sentence
		if !a.Over.IsZero() {
			word, text = "over "+a.Over.Format("15:04"), a.Ended
		}
		line(fmt.Sprintf("  %s  %-10s %s", a.Since.Format("15:04:05"), word, plain(text)))
	}
	for i, f := range s.Findings {
		if i == 6 {
			line(fmt.Sprintf("  and %d more findings", len(s.Findings)-6))
			break
		}
		line(fmt.Sprintf("  %-12s %s", f.Severity, plain(f.Sentence)))
	}
	if s.Message.Wanted {
		line("  first message: " + plain(s.Message.Sentence+" "+s.Message.Where))
	}
	if s.Ended != nil {
		for _, l := range endedLines(s.Ended) {
			line("  " + l)
		}
	}
	b.WriteString("\x1b[J")
	fmt.Fprint(v.p.out, b.String())
}

// largeFont holds digits three rows high.
var largeFont = map[rune][3]string{
	'0': {"█▀█", "█ █", "▀▀▀"}, '1': {"▀█ ", " █ ", "▀▀▀"}, '2': {"▀▀█", "█▀▀", "▀▀▀"}, '3': {"▀▀█", " ▀█", "▀▀▀"}, '4': {"█ █", "▀▀█", "  ▀"},
	'5': {"█▀▀", "▀▀█", "▀▀▀"}, '6': {"█▀▀", "█▀█", "▀▀▀"}, '7': {"▀▀█", "  █", "  ▀"}, '8': {"█▀█", "█▀█", "▀▀▀"}, '9': {"█▀█", "▀▀█", "▀▀▀"},
	'.': {" ", " ", "▀"}, ':': {"▄", "▄", " "}, '-': {"   ", "▀▀▀", "   "}, '–': {"   ", "▀▀▀", "   "}, ' ': {" ", " ", " "},
}

// largeText writes figures three rows high.
func largeText(s string) [3]string {
	var out [3]string
	for _, r := range s {
		glyph, ok := largeFont[r]
		if !ok {
			glyph = [3]string{" ", string(r), " "}
		}
		for i := range out {
			out[i] += glyph[i] + " "
		}
	}
	return out
}
