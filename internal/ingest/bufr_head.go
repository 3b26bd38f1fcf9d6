package ingest

import (
	"math"
	"strconv"

	"leadline/internal/bufr"
	"leadline/internal/sounding"
)

// clockElements are year to second.
var clockElements = []bufr.Descriptor{bufr.FXY(0, 4, 1), bufr.FXY(0, 4, 2), bufr.FXY(0, 4, 3), bufr.FXY(0, 4, 4), bufr.FXY(0, 4, 5), bufr.FXY(0, 4, 6)}

// reportHead holds the elements outside the levels of a report, looked up once. It is
// used again for every report.
type reportHead struct {
	s     bufr.Subset
	slots [256]headSlot     // where an element stands in list and items
	list  []bufr.Descriptor // those of the head elements that the template has
	items []bufr.Item       // Field is nil where a report lacks it

	names []string // of the items that head the report
	ends  []int    // of their texts in said
	said  []byte   // all texts
}

// headSlot is one entry of a table in which an element is looked for from its own slot
// on, up to a free one. The head elements fill less than a quarter of it.
type headSlot struct {
	element bufr.Descriptor // 0 where free
	place   int16           // -1: in the template, but not among items
}

func slotOf(d bufr.Descriptor) uint8 { return uint8(d ^ d>>7) }

// add notes where d stands.
func (h *reportHead) add(d bufr.Descriptor, place int) {
	k := slotOf(d)
	for h.slots[k].element != 0 {
		k++
	}
	h.slots[k] = headSlot{d, int16(place)}
}

// find returns the place of d, or false where the template does not have it.
func (h *reportHead) find(d bufr.Descriptor) (int, bool) {
	for k := slotOf(d); h.slots[k].element != 0; k++ {
		if h.slots[k].element == d {
			return int(h.slots[k].place), true
		}
	}
	return 0, false
}

// newReportHead prepares for the reports of a template.
func newReportHead(p *bufr.Program) *reportHead {
	h := &reportHead{}
	has := map[bufr.Descriptor]bool{}
	fields := p.Fields()
	for i := range fields {
		has[fields[i].Descriptor] = true
	}
	for _, elements := range [][]bufr.Descriptor{headElements, clockElements} {
		for _, d := range elements {
			if has[d] {
				h.add(d, len(h.list))
				h.list = append(h.list, d)
			}
		}
	}
	if has[eCloudType] {
		h.add(eCloudType, -1) // stands three times: looked up when wanted
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
		if k, ok := h.find(it.Field.Descriptor); ok && k >= 0 && h.items[k].Field == nil {
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

// begin starts the list of items that head a report.
func (h *reportHead) begin() { h.names, h.ends, h.said = h.names[:0], h.ends[:0], h.said[:0] }

// named ends the text that was put behind the last one and names it; an empty one is left out.
func (h *reportHead) named(name string) {
	if n := len(h.ends); len(h.said) > 0 && (n == 0 || h.ends[n-1] < len(h.said)) {
		h.names, h.ends = append(h.names, name), append(h.ends, len(h.said))
	}
}

// put adds an item.
func (h *reportHead) put(name, text string) {
	h.said = append(h.said, text...)
	h.named(name)
}

// whole adds a whole number.
func (h *reportHead) whole(name string, n int) {
	h.said = strconv.AppendInt(h.said, int64(n), 10)
	h.named(name)
}

// message adds which report of which message it is, and what sections 0, 1 and 3 say.
func (h *reportHead) message(number, report int, m *bufr.Message, heading string) {
	b := strconv.AppendInt(append(h.said, "message "...), int64(number), 10)
	if m.Subsets != 1 {
		b = strconv.AppendInt(append(b, ", report "...), int64(report), 10)
	}
	h.said = b
	h.named("message")
	h.put("heading", heading)
	h.said = templateOf(m).Append(h.said)
	h.named("template")
	h.whole("edition", m.Edition)
	h.whole("centre", m.Centre)
	h.whole("table version", m.TableVersion)
	b = append(appendPadded(h.said, m.Year, 4), '-')
	b = append(appendPadded(b, m.Month, 2), '-')
	b = append(appendPadded(b, m.Day, 2), ' ')
	b = append(appendPadded(b, m.Hour, 2), ':')
	h.said = appendPadded(b, m.Minute, 2)
	h.named("typical time")
	if m.Edition >= 4 && m.SubCategory != 255 {
		h.whole("sub-category", m.SubCategory)
	}
	if m.Update != 0 {
		h.whole("update", m.Update)
	}
}

// appendPadded adds n, which is not negative, with zeros before it up to width figures.
func appendPadded(b []byte, n, width int) []byte {
	for limit := 10; width > 1; width-- {
		if n < limit {
			b = append(b, "000"[:width-1]...)
			break
		}
		limit *= 10
	}
	return strconv.AppendInt(b, int64(n), 10)
}

// words adds an item as it is shown: value, unit, and what a figure means.
func (h *reportHead) words(it *bufr.Item) {
	b := h.said
	if it.Field.Kind == bufr.Text {
		start := len(b)
		for b = it.AppendText(b); len(b) > start && (b[len(b)-1] == ' ' || b[len(b)-1] == 0); {
			b = b[:len(b)-1]
		}
	} else {
		b = appendDecimal(b, it)
		if unit := it.Field.Unit; it.Field.Kind == bufr.Number && unit != "" && unit != "Numeric" {
			b = append(append(b, ' '), unit...)
		}
		before := len(b)
		b = append(b, " ("...)
		if b = it.AppendMeaning(b); len(b) == before+2 {
			b = b[:before]
		} else {
			b = append(b, ')')
		}
	}
	h.said = b
	h.named(it.Field.Name)
}

// appendHeader adds the items, whose texts share one string.
func (h *reportHead) appendHeader(header []sounding.Item) []sounding.Item {
	all, start := string(h.said), 0
	for i, end := range h.ends {
		header = append(header, sounding.Item{Name: h.names[i], Text: all[start:end]})
		start = end
	}
	return header
}

// has tells whether the template has d.
func (h *reportHead) has(d bufr.Descriptor) bool {
	_, ok := h.find(d)
	return ok
}

func (h *reportHead) item(d bufr.Descriptor) *bufr.Item {
	if k, ok := h.find(d); ok && k >= 0 && h.items[k].Field != nil {
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
