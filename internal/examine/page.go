package examine

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"leadline/internal/plot"
	"leadline/internal/sounding"
)

// Page writes the report as one page that needs nothing else: figures first, then the
// tables.
func (r *Report) Page(w io.Writer) error {
	var b strings.Builder
	b.WriteString("<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>Skill of the path</title><style>")
	b.WriteString(plot.Style)
	b.WriteString(`body{margin:0;background:var(--paper);color:var(--ink);font:15px/1.45 system-ui,sans-serif;font-variant-numeric:tabular-nums}main{max-width:1180px;margin:0 auto;padding:20px}
h1{font-size:20px}h2{font-size:16px;margin:28px 0 8px}table{border-collapse:collapse;width:100%;font-size:13px}th{text-align:left;border-bottom:1px solid var(--grey);padding:3px 10px 3px 0;vertical-align:bottom}td{padding:3px 10px 3px 0;border-bottom:1px solid var(--line);vertical-align:top}.wide{overflow-x:auto}.missed{font-weight:600}
.chart rect.found{fill:var(--td)}.chart rect.marked{fill:var(--ha);opacity:.55}.chart rect.wanted{fill:var(--ha);opacity:.15}
`)
	b.WriteString("</style></head><body><main><h1>Skill of the path on simulated flights with a known answer</h1>")
	fmt.Fprintf(&b, "<p>%d flights on %s seeds, method set %s.</p>", r.Flights, html.EscapeString(r.Purpose), html.EscapeString(r.MethodSet))
	if len(r.Errors) > 0 {
		b.WriteString("<h2>Root mean square error by height: final, and as received (thin)</h2>")
		b.Write(r.errorChart())
		b.WriteString("<h2>Share of samples within twice their stated uncertainty, % (wanted 93 to 97)</h2>")
		b.Write(r.coverageChart())
	}
	if len(r.Faults) > 0 {
		b.WriteString("<h2>Faults: found where they matter, and affected samples marked or right (thin)</h2>")
		b.Write(r.faultChart())
	}
	b.WriteString("<h2>Figures</h2>")
	var text strings.Builder
	r.Text(&text)
	tables(&b, text.String())
	b.WriteString("</main></body></html>\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// tables turns the report's Markdown, of which only paragraphs, lists and tables are
// used, into HTML.
func tables(b *strings.Builder, text string) {
	open := false
	for _, line := range strings.Split(text, "\n") {
		if strings.HasPrefix(line, "|") {
			if strings.HasPrefix(line, "|---") {
				continue
			}
			cell := "td"
			if !open {
				b.WriteString("<div class=\"wide\"><table>")
				open, cell = true, "th"
			}
			b.WriteString("<tr>")
			for _, c := range strings.Split(strings.Trim(line, "|"), "|") {
				c = strings.TrimSpace(c)
				class := ""
				if strings.Contains(c, "**") {
					c, class = strings.ReplaceAll(c, "**", ""), " class=\"missed\""
				}
				fmt.Fprintf(b, "<%s%s>%s</%s>", cell, class, html.EscapeString(c), cell)
			}
			b.WriteString("</tr>")
			continue
		}
		if open {
			b.WriteString("</table></div>")
			open = false
		}
		if line = strings.TrimPrefix(line, "- "); line != "" {
			b.WriteString("<p>" + html.EscapeString(line) + "</p>")
		}
	}
	if open {
		b.WriteString("</table></div>")
	}
}

var charted = []sounding.Variable{sounding.Temperature, sounding.Humidity, sounding.Pressure, sounding.WindU, sounding.GeopotentialHeight}

// middles are the heights in km that stand for the layers.
var middles = []float64{2.5, 7.5, 13, 20.5, 28}

// byLayer returns one figure of a variable for each layer.
func (r *Report) byLayer(v sounding.Variable, time string, of func(*ErrorRow) sounding.Number) []float64 {
	out := make([]float64, len(byHeight))
	for k, b := range byHeight {
		out[k] = math.NaN()
		for i := range r.Errors {
			if e := &r.Errors[i]; e.Variable == v && e.Band == b.name && e.Time == time {
				out[k] = of(e).Value()
			}
		}
	}
	return out
}

// panels draws one panel a variable over height; each curve is a figure of the layers.
func (r *Report) panels(id, title string, least, most float64, curves []struct {
	class string
	time  string
	of    func(*ErrorRow) sounding.Number
}) []byte {
	const width, height, top, left, gap = 1160.0, 330.0, 34.0, 44.0, 26.0
	c := plot.New(id, width, height, title)
	each := (width-left-10)/float64(len(charted)) - gap
	for k, v := range charted {
		f := plot.Frame{X: left + float64(k)*(each+gap), Y: top, W: each, H: height - top - 40}
		low, high := least, most
		if math.IsNaN(high) {
			high = 0
			for _, curve := range curves {
				for _, x := range r.byLayer(v, curve.time, curve.of) {
					// What was received may be far off: a panel shows up to five times the final error.
					if !strings.Contains(curve.class, "raw") {
						high = math.Max(high, 2.5*x)
					}
				}
			}
		}
		sx, step := plot.Nice(low, high, 4, f.X, f.X+f.W)
		sy := plot.Scale{Min: 0, Max: 30, From: f.Y + f.H, To: f.Y}
		if least > 0 {
			a, b := sx.At(93), sx.At(97)
			c.Rect("wanted", plot.Frame{X: a, Y: f.Y, W: b - a, H: f.H}, "wanted")
		}
		c.Axes(f, sx, step, sy, 5, k == 0)
		info := v.Info()
		c.Text("head", plot.Left, f.X, f.Y-10, info.Label+", "+info.Unit)
		for _, curve := range curves {
			c.Draw(f, sx, sy, middles, &plot.Curve{Class: curve.class, X: r.byLayer(v, curve.time, curve.of)})
		}
	}
	c.Text("tick", plot.Left, left, height-6, "height in km; line: day, dashed: night")
	return c.Bytes()
}

type layerCurve = struct {
	class string
	time  string
	of    func(*ErrorRow) sounding.Number
}

func (r *Report) errorChart() []byte {
	final := func(e *ErrorRow) sounding.Number { return e.FinalRMS }
	raw := func(e *ErrorRow) sounding.Number { return e.RawRMS }
	return r.panels("errors", "root mean square error of each variable by height, as received and final", 0, math.NaN(),
		[]layerCurve{{"raw thin", "day", raw}, {"raw thin dash", "night", raw}, {"t strong", "day", final}, {"td strong dash", "night", final}})
}

func (r *Report) coverageChart() []byte {
	coverage := func(e *ErrorRow) sounding.Number { return e.CoveragePct }
	return r.panels("coverage", "share of samples within twice their stated uncertainty by height", 88, 100,
		[]layerCurve{{"t strong", "day", coverage}, {"td strong dash", "night", coverage}})
}

func (r *Report) faultChart() []byte {
	const width, left, row, top = 1160.0, 230.0, 17.0, 24.0
	height := top + row*float64(len(r.Faults)) + 28
	c := plot.New("faults", width, height, "share of each fault that is found, and of its samples that are marked")
	sx := plot.Scale{Min: 0, Max: 1, From: left, To: width - 30}
	for k := range r.Faults {
		f := &r.Faults[k]
		y := top + row*float64(k)
		c.Text("", plot.Right, left-8, y+12, f.Fault)
		if f.Mattered > 0 {
			share := float64(f.Found) / float64(f.Mattered)
			c.Rect("found", plot.Frame{X: left, Y: y + 2, W: sx.At(share) - left, H: 8}, fmt.Sprintf("%s: found on %d of %d flights", f.Fault, f.Found, f.Mattered))
		}
		if f.Affected > 0 {
			share := float64(f.Marked) / float64(f.Affected)
			c.Rect("marked", plot.Frame{X: left, Y: y + 11, W: sx.At(share) - left, H: 3}, fmt.Sprintf("%s: %.0f %% of affected samples", f.Fault, 100*share))
		}
	}
	for _, v := range []float64{0, 0.25, 0.5, 0.75, 0.95, 1} {
		c.Line("grid", sx.At(v), top-2, sx.At(v), height-24)
		c.Text("tick", plot.Middle, sx.At(v), height-8, fmt.Sprintf("%g", v))
	}
	return c.Bytes()
}
