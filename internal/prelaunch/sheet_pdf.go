package prelaunch

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"leadline/internal/sounding"
)

// PDF writes the sheet as exactly one A4 page with areas drawn on its map; the same sheet
// gives the same bytes, dated with the slot's nominal hour. Where there is too much for
// one page at the smallest size that can be read in a vehicle, notes and steps are left
// out from the end and the page says how many. version stands in its foot.
func (s *Sheet) PDF(w io.Writer, areas []Area, version string) error {
	var p *paper
	// Full size first, then smaller, then with less on it.
	for _, size := range []float64{1, 0.95, 0.9, 0.85, 0.8} {
		if p = s.layOut(areas, version, size, len(s.Remarks), len(s.List)); p.fits() {
			return p.write(w)
		}
	}
	remarks := len(s.Remarks)
	for remarks > 0 && s.Remarks[remarks-1].Level != Stop && !p.fits() {
		remarks--
		p = s.layOut(areas, version, 0.8, remarks, len(s.List))
	}
	for steps := len(s.List); steps > 0 && !p.fits(); steps-- {
		p = s.layOut(areas, version, 0.8, remarks, steps-1)
	}
	for remarks > 0 && !p.fits() {
		remarks--
		p = s.layOut(areas, version, 0.8, remarks, 0)
	}
	if !p.fits() {
		return errors.New("the sheet does not fit on one page: names and texts are too long")
	}
	return p.write(w)
}

// The page in mm.
const (
	pageWidth, pageHeight = 210.0, 297.0
	pageEdge              = 10.0
)

type colour struct{ r, g, b int }

// Colours as on the screens.
var (
	inkColour  = colour{29, 29, 27}
	greyColour = colour{85, 85, 79}
	lineColour = colour{201, 201, 194}
	gridColour = colour{230, 227, 220}
	upColour   = colour{0, 114, 178}
	downColour = colour{213, 94, 0}
)

// paper is one page being written, from the top down.
type paper struct {
	pdf    *fpdf.Fpdf
	size   float64 // 1: text of 8.5 points
	x, w   float64 // of the column that is written
	y      float64
	lowest float64 // where the page's content ends
}

func (p *paper) fits() bool { return p.lowest <= pageHeight-pageEdge && p.pdf.Ok() }

func (p *paper) write(w io.Writer) error { return p.pdf.Output(w) }

// font sets style ("" or "B"), size in points at full size, and colour.
func (p *paper) font(style string, points float64, c colour) {
	p.pdf.SetFont("Helvetica", style, points*p.size)
	p.pdf.SetTextColor(c.r, c.g, c.b)
}

// lead is the height of a line in mm of text in points.
func (p *paper) lead(points float64) float64 { return points * p.size * 0.3528 * 1.2 }

// wrap breaks a text of Windows-1252 into lines of at most width in the font in force.
func (p *paper) wrap(text string, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		for p.pdf.GetStringWidth(word) > width && len(word) > 1 { // longer than a line
			n := len(word) - 1
			for n > 1 && p.pdf.GetStringWidth(word[:n]) > width {
				n--
			}
			if line != "" {
				lines, line = append(lines, line), ""
			}
			lines, word = append(lines, word[:n]), word[n:]
		}
		switch {
		case line == "":
			line = word
		case p.pdf.GetStringWidth(line+" "+word) <= width:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// at writes one line with its baseline in the line's box that begins at y.
func (p *paper) at(x, y, points float64, text string) {
	p.pdf.Text(x, y+p.lead(points)*0.78, text)
}

// paragraph writes a text over the column, from indent on.
func (p *paper) paragraph(style string, points float64, c colour, indent float64, text string) {
	p.font(style, points, c)
	for _, line := range p.wrap(western(text), p.w-indent) {
		p.at(p.x+indent, p.y, points, line)
		p.y += p.lead(points)
	}
}

func (p *paper) stroke(c colour, width float64) {
	p.pdf.SetDrawColor(c.r, c.g, c.b)
	p.pdf.SetLineWidth(width)
}

func (p *paper) heading(text string) {
	p.y += 1.6 * p.size
	p.paragraph("B", 9, inkColour, 0, text)
	p.stroke(inkColour, 0.25)
	p.pdf.Line(p.x, p.y+0.1, p.x+p.w, p.y+0.1)
	p.y += 0.7 * p.size
}

// row writes a name in grey and what belongs to it.
func (p *paper) row(name, value string) { p.rowOf(name, value, "", 8.5) }

func (p *paper) rowOf(name, value, style string, points float64) {
	const indent = 25
	top := p.y
	p.font("", 8.5, greyColour)
	p.at(p.x, top+(p.lead(points)-p.lead(8.5))*0.78, 8.5, p.cut(western(name), indent-1.5))
	p.paragraph(style, points, inkColour, indent, value)
	if p.y == top {
		p.y += p.lead(8.5)
	}
}

// cut shortens a text to a width.
func (p *paper) cut(text string, width float64) string {
	if p.pdf.GetStringWidth(text) <= width {
		return text
	}
	for len(text) > 1 && p.pdf.GetStringWidth(text+"\x85") > width {
		text = text[:len(text)-1]
	}
	return text + "\x85" // an ellipsis in Windows-1252
}

func (p *paper) reached() { p.lowest = max(p.lowest, p.y) }

func (s *Sheet) layOut(areas []Area, version string, size float64, remarks, steps int) *paper {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetCreationDate(s.Slot.Nominal.UTC())
	pdf.SetModificationDate(s.Slot.Nominal.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(pageEdge, pageEdge, pageEdge)
	pdf.SetTitle("Launch sheet "+s.Site+" "+s.Slot.Nominal.UTC().Format("2006-01-02 15:04 UTC"), true)
	pdf.SetCreator("leadline", true)
	pdf.SetProducer("leadline", true)
	pdf.AddPage()
	p := &paper{pdf: pdf, size: size, x: pageEdge, w: pageWidth - 2*pageEdge, y: pageEdge}
	s.writeHead(p)

	const gap = 6.0
	top, all := p.y, p.w
	p.w = 98
	s.writeFill(p)
	left := p.y
	p.x, p.w, p.y = p.x+p.w+gap, all-p.w-gap, top
	s.writeDrift(p, areas)
	p.x, p.w, p.y = pageEdge, all, max(left, p.y)

	s.writeRemarks(p, remarks)
	s.writeList(p, steps)
	s.writeFoot(p, version)
	p.reached()
	return p
}

func (s *Sheet) writeHead(p *paper) {
	p.font("B", 13, inkColour)
	word := western(strings.ToUpper(s.Word))
	width := p.pdf.GetStringWidth(word) + 7
	p.stroke(inkColour, 0.6)
	p.pdf.Rect(p.x+p.w-width, p.y, width, p.lead(13)+1.6, "D")
	p.at(p.x+p.w-width+3.5, p.y+0.8, 13, word)
	full := p.w
	p.w -= width + 6
	p.paragraph("B", 13, inkColour, 0, "Launch sheet · "+s.Site)
	p.y += 0.6
	clock := func(t time.Time) string { return t.UTC().Format("15:04") }
	p.paragraph("", 9.5, inkColour, 0, fmt.Sprintf("slot %s UTC · release %s–%s, best %s UTC · local %s", s.Slot.Nominal.UTC().Format("2006-01-02 15:04"),
		clock(s.Slot.Earliest), clock(s.Slot.Latest), clock(s.Slot.Best), s.Slot.LocalBest))
	p.w = full
	p.paragraph("", 8.5, greyColour, 0, fmt.Sprintf("%.5f° %.5f°, %.1f m · local time %s · radiosonde %s · operator %s · sun %+.1f° at release",
		s.Place.Latitude, s.Place.Longitude, s.Height, s.Zone, or(s.Serial, "–"), or(s.Operator, "–"), s.Slot.Sun))
	p.y += 0.8
	p.stroke(inkColour, 0.6)
	p.pdf.Line(p.x, p.y, p.x+p.w, p.y)
}

func or(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

func (s *Sheet) writeFill(p *paper) {
	f := s.Fill
	v := func(x Value, decimals int) string {
		return fmt.Sprintf("%.*f ± %.*f", decimals, x.Value.Value(), decimals, x.U.Value())
	}
	times := func(x Value, by sounding.Number) Value { return Value{x.Value * by, x.U * by} }
	p.heading("Fill")
	p.rowOf("nozzle lift", v(times(f.NozzleLift, 1000), 0)+" g", "B", 14)
	p.row("gas", fmt.Sprintf("%s %.1f %%, %s m³, %s kg", f.Gas, f.Purity, v(f.Volume, 3), v(f.GasMass, 3)))
	p.row("balloon, payload", fmt.Sprintf("%.0f g, %.0f g; free lift %s g; weather: %s", 1000*f.Balloon, 1000*f.Payload, v(times(f.FreeLift, 1000), 0), f.Weather.Word))
	p.row("diameter", fmt.Sprintf("%s m at release, %s m at burst", v(f.Diameter, 2), v(f.BurstDiameter, 2)))
	p.row("rate of climb", fmt.Sprintf("%s m/s at release, %s m/s on average", v(f.ReleaseRate, 2), v(f.MeanRate, 2)))
	p.paragraph("", 7, greyColour, 25, f.DragFrom)
	p.row("burst", fmt.Sprintf("%s km, %s hPa, after %s min", v(times(f.BurstHeight, 0.001), 1), v(f.BurstPressure, 1), v(times(f.BurstTime, 1.0/60), 0)))
	if s.Store != nil {
		p.row("gas store", fmt.Sprintf("%d fills left in %d cylinders, %d needed", s.Store.Fills, s.Store.Bottles, s.Store.Needed))
	}
	for _, i := range s.Stock {
		p.row(i.Name, i.Words())
	}

	p.heading("Expected climb")
	columns := []struct {
		head, unit string
		right      float64
	}{{"height", "km", 13}, {"pressure", "hPa", 33}, {"time", "min", 49}, {"rate", "m/s", 73}, {"diameter", "m", 94}}
	cell := func(right float64, c colour, text string) {
		p.font("", 8, c)
		t := western(text)
		p.at(p.x+right-p.pdf.GetStringWidth(t), p.y, 8, t)
	}
	for _, c := range columns {
		cell(c.right, greyColour, c.head+" "+c.unit)
	}
	p.y += p.lead(8)
	for _, r := range f.Rates {
		for i, text := range []string{fmt.Sprintf("%.1f", r.Height/1000), fmt.Sprintf("%.1f", r.Pressure), fmt.Sprintf("%.0f", r.Time/60), fmt.Sprintf("%.1f ± %.1f", r.Rate, r.U), fmt.Sprintf("%.2f", r.Diameter)} {
			cell(columns[i].right, inkColour, text)
		}
		p.y += p.lead(8)
	}

	p.heading("Ground check: " + s.Check.Heading())
	for _, l := range s.Check.Lines {
		p.paragraph("", 8, inkColour, 0, l.Text+": "+l.Word)
	}
	p.paragraph("", 7.5, greyColour, 0, s.Check.Reason)
	for _, d := range s.Check.Drift {
		p.paragraph("", 7.5, greyColour, 0, d)
	}
	if words := s.Check.RulingWords(); words != "" {
		p.paragraph("B", 8, inkColour, 0, words)
	}
}

func (s *Sheet) writeDrift(p *paper, areas []Area) {
	d := s.Drift
	p.heading("Where it will go (estimate)")
	s.drawSketch(p, areas)
	p.paragraph("B", 8.5, inkColour, 0, fmt.Sprintf("landing %s, after %.0f ± %.0f min", d.Landing.Place.Words(s.Place), d.FlightTime.Value.Value()/60, d.FlightTime.U.Value()/60))
	p.paragraph("", 8.5, inkColour, 0, fmt.Sprintf("%.4f° %.4f°; 68 %% within %.1f × %.1f km, 95 %% within %.1f × %.1f km half-axes, long axis %03.0f°", d.Landing.Latitude, d.Landing.Longitude,
		d.Ellipse.Major68/1000, d.Ellipse.Minor68/1000, d.Ellipse.Major95/1000, d.Ellipse.Minor95/1000, d.Ellipse.Bearing))
	p.paragraph("", 7.5, greyColour, 0, "wind: "+d.Wind)
	for _, w := range s.Watch {
		p.paragraph("", 8, inkColour, 0, w.Words)
	}
	p.heading("Airspace (information)")
	applies := "does not apply by weight"
	if s.Airspace.US101 {
		applies = "applies"
	}
	p.paragraph("", 8, inkColour, 0, fmt.Sprintf("ICAO class %s: %s. US 14 CFR 101 subpart D: %s, %s.", strings.ToUpper(s.Airspace.Class), s.Airspace.Because, applies, s.Airspace.US101Why))
	p.paragraph("", 7, greyColour, 0, s.Airspace.Defer)
}

// drawSketch draws track, ellipses and areas on a grid of kilometres.
func (s *Sheet) drawSketch(p *paper, areas []Area) {
	width, height := p.w, 58*p.size
	k := s.sketch(width, height, 5)
	left, top := p.x, p.y+0.8
	at := func(q Place) (x, y float64) {
		x, y = k.xy(q)
		return left + x, top + y
	}
	points := func(list []Place) []fpdf.PointType {
		out := make([]fpdf.PointType, len(list))
		for i, q := range list {
			out[i].X, out[i].Y = at(q)
		}
		return out
	}
	line := func(list []Place) {
		for i, q := range points(list) {
			if i == 0 {
				p.pdf.MoveTo(q.X, q.Y)
			} else {
				p.pdf.LineTo(q.X, q.Y)
			}
		}
		if len(list) > 1 {
			p.pdf.DrawPath("D")
		}
	}
	p.pdf.ClipRect(left, top, width, height, false)
	// Grid lines at round kilometres east and north of the release point.
	grid := k.step(0.2)
	x0, y0 := at(s.Place)
	p.stroke(gridColour, 0.15)
	gap := grid / k.scale
	for x := x0 - gap*float64(int((x0-left)/gap)); x < left+width; x += gap {
		p.pdf.Line(x, top, x, top+height)
	}
	for y := y0 - gap*float64(int((y0-top)/gap)); y < top+height; y += gap {
		p.pdf.Line(left, y, left+width, y)
	}
	p.stroke(inkColour, 0.3)
	p.pdf.SetDashPattern([]float64{1.4, 0.7}, 0)
	for i := range areas {
		for _, ring := range areas[i].Rings {
			if areas[i].Closed && len(ring) > 2 {
				p.pdf.SetAlpha(0.10, "Normal")
				p.pdf.SetFillColor(inkColour.r, inkColour.g, inkColour.b)
				p.pdf.Polygon(points(ring), "F")
				p.pdf.SetAlpha(1, "Normal")
			}
			line(ring)
		}
	}
	p.pdf.SetDashPattern(nil, 0)
	p.stroke(downColour, 0.3)
	p.pdf.SetFillColor(downColour.r, downColour.g, downColour.b)
	for _, e := range [][]Place{k.outer, k.inner} {
		p.pdf.SetAlpha(0.12, "Normal")
		p.pdf.Polygon(points(e), "F")
		p.pdf.SetAlpha(1, "Normal")
		line(e)
	}
	p.stroke(upColour, 0.5)
	line(k.ascent)
	p.stroke(downColour, 0.5)
	p.pdf.SetDashPattern([]float64{1.6, 0.8}, 0)
	line(k.fallen)
	p.pdf.SetDashPattern(nil, 0)
	p.stroke(inkColour, 0.3)
	mark := func(q Place, r float64, c colour, name string) {
		x, y := at(q)
		p.pdf.SetFillColor(c.r, c.g, c.b)
		p.pdf.Circle(x, y, r, "DF")
		if name == "" {
			return
		}
		p.font("", 8, inkColour)
		w := p.pdf.GetStringWidth(name)
		tx := x + 2.2
		if tx+w > left+width-1 {
			tx = x - 2.2 - w
		}
		p.pdf.SetFillColor(255, 255, 255)
		p.pdf.SetAlpha(0.8, "Normal")
		y -= 3 // above the track
		p.pdf.Rect(tx-0.4, y-1.6, w+0.8, 3.2, "F")
		p.pdf.SetAlpha(1, "Normal")
		p.pdf.Text(tx, y+1, name)
	}
	mark(s.Drift.Burst.Place, 0.9, upColour, "")
	mark(s.Place, 1.2, colour{255, 255, 255}, "release")
	mark(s.Drift.Landing.Place, 1.2, downColour, "landing")
	p.pdf.ClipEnd()
	p.stroke(lineColour, 0.25)
	p.pdf.Rect(left, top, width, height, "D")
	// The grid's length, and north.
	p.stroke(inkColour, 0.5)
	p.pdf.Line(left+2, top+height-2, left+2+gap, top+height-2)
	p.font("", 7.5, inkColour)
	p.pdf.Text(left+2, top+height-3, western(fmt.Sprintf("grid %g km", grid/1000)))
	p.pdf.SetFillColor(inkColour.r, inkColour.g, inkColour.b)
	p.pdf.Polygon([]fpdf.PointType{{X: left + width - 4, Y: top + 2}, {X: left + width - 5.2, Y: top + 5}, {X: left + width - 2.8, Y: top + 5}}, "F")
	p.pdf.Text(left+width-4.9, top+8, "N")
	p.y = top + height + 1
}

func (s *Sheet) writeRemarks(p *paper, most int) {
	if len(s.Remarks) == 0 {
		return
	}
	p.heading("To look at")
	for _, r := range s.Remarks[:most] {
		style := ""
		if r.Level > Note {
			style = "B"
		}
		p.font(style, 8, inkColour)
		p.at(p.x, p.y, 8, western(map[Level]string{Stop: "STOP", Warning: "LOOK", Note: "note"}[r.Level]))
		if r.Level != Stop {
			style = ""
		}
		p.paragraph(style, 8, inkColour, 11, r.About+": "+r.Text)
	}
	if left := len(s.Remarks) - most; left > 0 {
		p.paragraph("B", 8, inkColour, 11, fmt.Sprintf("%d more did not fit on this page: read them on the screen or in the other sheet", left))
	}
}

// writeList writes the launch list in two columns of about one height.
func (s *Sheet) writeList(p *paper, most int) {
	p.heading("Launch list")
	const box, indent, gap, points, caution = 2.6, 5.0, 6.0, 8.2, 7.0
	x, all, top := p.x, p.w, p.y+0.4
	p.w = (all - gap) / 2
	heights := make([]float64, most)
	total := 0.0
	words := func(d *Done) string {
		if d.Tick == nil {
			return d.Text
		}
		words := d.Text + " · " + d.Tick.At.UTC().Format("15:04") + " UTC " + d.Tick.Who
		if d.Tick.Note != "" {
			words += ": " + d.Tick.Note
		}
		return words
	}
	for i := range heights {
		d := &s.List[i]
		p.font("", points, inkColour)
		heights[i] = p.lead(points)*float64(len(p.wrap(western(words(d)), p.w-indent))) + 0.7*p.size
		if d.Caution != "" {
			p.font("", caution, inkColour)
			heights[i] += p.lead(caution) * float64(len(p.wrap(western(d.Caution), p.w-indent)))
		}
		total += heights[i]
	}
	p.y = top
	lowest, second := top, false
	for i := range heights {
		if !second && p.y-top+heights[i]/2 > total/2 {
			lowest, second = p.y, true
			p.x, p.y = x+p.w+gap, top
		}
		d := &s.List[i]
		p.stroke(inkColour, 0.3)
		by := p.y + 0.2
		p.pdf.Rect(p.x, by, box, box, "D")
		if d.Tick != nil {
			p.stroke(inkColour, 0.5)
			p.pdf.MoveTo(p.x+0.5, by+1.4)
			p.pdf.LineTo(p.x+1.1, by+2.1)
			p.pdf.LineTo(p.x+2.3, by+0.4)
			p.pdf.DrawPath("D")
		}
		p.paragraph("", points, inkColour, indent, words(d))
		if d.Caution != "" {
			p.paragraph("", caution, greyColour, indent, d.Caution)
		}
		p.y += 0.7 * p.size
	}
	p.x, p.w, p.y = x, all, max(lowest, p.y)
	if left := len(s.List) - most; left > 0 {
		p.paragraph("B", 8, inkColour, 0, fmt.Sprintf("%d more steps did not fit on this page: it is not the whole list; read them on the screen or in the other sheet", left))
	}
}

func (s *Sheet) writeFoot(p *paper, version string) {
	p.y += 7 // room to write
	const gap = 5.0
	width := (p.w - 2*gap) / 3
	p.stroke(inkColour, 0.25)
	p.font("", 7, greyColour)
	for i, text := range []string{"released at (UTC, to the second)", "surface at the release point: p, T, U, wind", "name"} {
		x := p.x + float64(i)*(width+gap)
		p.pdf.Line(x, p.y, x+width, p.y)
		p.at(x, p.y+0.3, 7, western(text))
	}
	p.y += p.lead(7) + 1.2
	p.paragraph("", 7, greyColour, 0, "Cautions are the usual ones; airspace authority, site rules and trained practice go before this sheet. ± is one standard uncertainty. leadline "+version)
}
