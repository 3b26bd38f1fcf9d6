package prelaunch

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"
	"time"
)

//go:embed sheet.html
var sheetText string

// sheetPage is parsed when it is first wanted: every start of the program would pay for it.
var sheetPage = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("sheet").Funcs(template.FuncMap{
		"utc":   func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") },
		"clock": func(t time.Time) string { return t.UTC().Format("15:04") },
		"k":     func(x float64) float64 { return 1000 * x },
		"div":   func(x, by float64) float64 { return x / by },
		"val": func(v Value, decimals int) string {
			return fmt.Sprintf("%.*f ± %.*f", decimals, v.Value.Value(), decimals, v.U.Value())
		},
		"grams":   func(v Value) string { return fmt.Sprintf("%.0f ± %.0f g", 1000*v.Value.Value(), 1000*v.U.Value()) },
		"km":      func(v Value) string { return fmt.Sprintf("%.1f ± %.1f", v.Value.Value()/1000, v.U.Value()/1000) },
		"minutes": func(v Value) string { return fmt.Sprintf("%.0f ± %.0f min", v.Value.Value()/60, v.U.Value()/60) },
	}).Parse(sheetText))
})

// HTML writes the sheet as one page for the printer, A4, with areas drawn on its map. The
// same sheet gives the same bytes. version stands in its foot.
func (s *Sheet) HTML(w io.Writer, areas []Area, version string) error {
	return sheetPage().Execute(w, map[string]any{"S": s, "F": s.Fill, "D": s.Drift, "Map": template.HTML(s.drawMap(areas)), "Where": s.Drift.Landing.Place.Words(s.Place), "Version": version})
}

// drawMap draws track, ellipses and areas, north up, one scale for both directions. All
// texts in it are numbers of ours or escaped names.
func (s *Sheet) drawMap(areas []Area) string {
	const width, height, edge = 360.0, 250.0, 14.0
	k := s.sketch(width, height, edge)
	at := func(p Place) string {
		x, y := k.xy(p)
		return fmt.Sprintf("%.1f,%.1f", x, y)
	}
	path := func(places []Place) string {
		var b strings.Builder
		for _, p := range places {
			b.WriteString(at(p) + " ")
		}
		return b.String()
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="map of the predicted flight, north up"><rect x=".5" y=".5" width="%g" height="%g" fill="none" stroke="#c9c9c2"/>`, width, height, width-1, height-1)
	for i := range areas {
		a := &areas[i]
		for _, ring := range a.Rings {
			if a.Closed {
				fmt.Fprintf(&b, `<polygon points="%s" fill="#1d1d1b" fill-opacity=".10" stroke="#1d1d1b" stroke-dasharray="4 2"/>`, path(ring))
			} else {
				fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#1d1d1b" stroke-dasharray="4 2"/>`, path(ring))
			}
		}
	}
	fmt.Fprintf(&b, `<polygon points="%s" fill="#D55E00" fill-opacity=".10" stroke="#D55E00"/><polygon points="%s" fill="#D55E00" fill-opacity=".18" stroke="#D55E00"/>`, path(k.outer), path(k.inner))
	fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#0072B2" stroke-width="1.8"/><polyline points="%s" fill="none" stroke="#D55E00" stroke-width="1.8" stroke-dasharray="5 2"/>`, path(k.ascent), path(k.fallen))
	mark := func(p Place, r float64, fill string) {
		x, y, _ := strings.Cut(at(p), ",")
		fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="%g" fill="%s" stroke="#1d1d1b"/>`, x, y, r, fill)
	}
	mark(s.Place, 4, "#fff")
	mark(s.Drift.Burst.Place, 3, "#0072B2")
	mark(s.Drift.Landing.Place, 4, "#D55E00")
	name := func(p Place, text string) {
		x, y, _ := strings.Cut(at(p), ",")
		fmt.Fprintf(&b, `<text x="%s" y="%s" dx="7" dy="4" font-size="11" paint-order="stroke" stroke="#fff" stroke-width="3">%s</text>`, x, y, text)
	}
	name(s.Place, "release")
	name(s.Drift.Landing.Place, "landing")
	// A bar of a round length, at most a third of the width.
	bar := k.step(1.0 / 3)
	px := bar / k.scale
	fmt.Fprintf(&b, `<path d="M10,%g h%.1f" stroke="#1d1d1b" stroke-width="2"/><text x="10" y="%g" font-size="10">%g km</text>`, height-8, px, height-13, bar/1000)
	fmt.Fprintf(&b, `<path d="M%g,26 l4,-12 l4,12 z" fill="#1d1d1b"/><text x="%g" y="37" font-size="10">N</text></svg>`, width-22, width-21)
	return b.String()
}
