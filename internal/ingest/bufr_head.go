package ingest

import (
	"math"

	"leadline/internal/bufr"
)

// clockElements are year to second.
var clockElements = []bufr.Descriptor{bufr.FXY(0, 4, 1), bufr.FXY(0, 4, 2), bufr.FXY(0, 4, 3), bufr.FXY(0, 4, 4), bufr.FXY(0, 4, 5), bufr.FXY(0, 4, 6)}

// reportHead holds the elements outside the levels of a report, looked up once. It is
// used again for every report.
type reportHead struct {
	s     bufr.Subset
	place map[bufr.Descriptor]int // in list and items
	list  []bufr.Descriptor       // those of the head elements that the template has
	items []bufr.Item             // Field is nil where a report lacks it

	scratch []byte
}

// newReportHead prepares for the reports of a template.
func newReportHead(p *bufr.Program) *reportHead {
	h := &reportHead{place: map[bufr.Descriptor]int{}}
	has := map[bufr.Descriptor]bool{}
	fields := p.Fields()
	for i := range fields {
		has[fields[i].Descriptor] = true
	}
	for _, elements := range [][]bufr.Descriptor{headElements, clockElements} {
		for _, d := range elements {
			if has[d] {
				h.place[d] = len(h.list)
				h.list = append(h.list, d)
			}
		}
	}
	if has[eCloudType] {
		h.place[eCloudType] = -1 // stands three times: looked up when wanted
	}
	h.items = make([]bufr.Item, len(h.list))
	return h
}

// read takes the elements of one report.
func (h *reportHead) read(s bufr.Subset) {
	h.s = s
	clear(h.items)
	left := len(h.items)
	for it := range s.Items() {
		if it.Row >= 0 || left == 0 {
			break // the levels: what stands behind them is looked for below
		}
		if it.Field.Kind == bufr.Associated || it.Field.Operator != 0 {
			continue
		}
		if k, ok := h.place[it.Field.Descriptor]; ok && k >= 0 && h.items[k].Field == nil {
			h.items[k] = *it
			left--
		}
	}
	for i, d := range h.list {
		if left == 0 {
			break
		}
		if h.items[i].Field == nil {
			h.items[i], _ = s.Find(d, 0)
			left--
		}
	}
}

// words returns an item as it is shown: value, unit, and what a figure means.
func (h *reportHead) words(it *bufr.Item) string {
	if it.Field.Kind == bufr.Text {
		return it.Text()
	}
	b := appendDecimal(h.scratch[:0], it)
	if unit := it.Field.Unit; it.Field.Kind == bufr.Number && unit != "" && unit != "Numeric" {
		b = append(append(b, ' '), unit...)
	}
	if meaning := it.Meaning(); meaning != "" {
		b = append(append(append(b, " ("...), meaning...), ')')
	}
	h.scratch = b
	return string(b)
}

// has tells whether the template has d.
func (h *reportHead) has(d bufr.Descriptor) bool {
	_, ok := h.place[d]
	return ok
}

func (h *reportHead) item(d bufr.Descriptor) *bufr.Item {
	if k, ok := h.place[d]; ok && k >= 0 && h.items[k].Field != nil {
		return &h.items[k]
	}
	return nil
}

// number returns the value of d, NaN where it is missing or absent.
func (h *reportHead) number(d bufr.Descriptor) float64 {
	if it := h.item(d); it != nil {
		return it.Value()
	}
	return math.NaN()
}

// text returns the text of d, "" where it is missing or absent.
func (h *reportHead) text(d bufr.Descriptor) string {
	if it := h.item(d); it != nil {
		return it.Text()
	}
	return ""
}
