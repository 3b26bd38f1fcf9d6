package ingest

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/units"
)

// slotKind says what becomes of one field of a row.
type slotKind uint8

const (
	slotSkip slotKind = iota
	slotTime
	slotValue
	slotExtra
)

// slot is what becomes of one field of a row.
type slot struct {
	kind       slotKind
	name       string
	variable   sounding.Variable
	unit       *units.Unit
	plain      bool // no conversion at all
	position   bool // latitude or longitude: degrees and minutes are tried
	longitude  bool
	scale      float64
	numbers    []float64 // missing tokens that are numbers
	words      []string  // missing tokens that are not
	hemisphere int       // field that holds N, S, E or W; -1 none
	dimension  string
	values     []float64 // of slotValue and slotExtra
	text       []string  // of slotExtra: all rows once it is text, else the first ones
	isText     bool
	unitName   string // of slotExtra
	suspects   suspects
}

// earlyTexts is how many texts of an extra column are kept until it is clear
// whether it holds numbers.
const earlyTexts = 64

// textReader reads one text source.
type textReader struct {
	recipe   *Recipe
	options  Options
	lines    *lineReader
	cutter   cutter
	latin1   bool
	comments [][]byte
	captures *captures
	decimal  byte

	header    []string
	headerRaw string
	unitRow   []string
	slots     []slot
	timeAt    []int // fields of the time
	expected  int

	clock    *sourceClock
	time     []float64
	line     []int32
	problems problems
	findings []sounding.Finding
	interned map[string]string
	joined   []byte
	control  int // control bytes in the head
	head     int
	lastDot  int // decimals of the last field of the row before
	atRow    int // data lines seen
}

// readText reads a text source into a table.
func readText(ctx context.Context, name string, src *opened, recipe *Recipe, o Options) (*table, error) {
	buffered := bufio.NewReaderSize(src, 64<<10)
	head, err := buffered.Peek(16 << 10)
	if err != nil && err != io.EOF && !errors.Is(err, bufio.ErrBufferFull) {
		return nil, err
	}
	if len(head) == 0 {
		if src.cut != nil {
			return nil, fmt.Errorf("%w: the %s data cannot be unpacked: %v", ErrNoRows, src.packed, src.cut)
		}
		return nil, fmt.Errorf("%w: the source is empty", ErrNoRows)
	}
	encoding, mark := sniffEncoding(head)
	// A recipe made for one copy of a source reads another that was saved as UTF-16: the
	// zero bytes of that leave no doubt.
	wide := func(e string) bool { return strings.HasPrefix(e, "utf-16") }
	if e := recipe.Text.Encoding; e != "" && e != "auto" && mark == 0 && (wide(e) || !wide(encoding)) {
		encoding = e
	}
	r := &textReader{recipe: recipe, options: o, latin1: encoding == "latin-1", decimal: '.', interned: map[string]string{}}
	for _, c := range head {
		if c < 0x20 && c != '\n' && c != '\r' && c != '\t' && c != '\f' {
			r.control++
		}
	}
	r.head = len(head)
	if wide(encoding) {
		r.control = 0
	}
	if recipe.Text.Decimal == "," {
		r.decimal = ','
	}
	if r.cutter.delimiter, err = delimiterOf(recipe.Text.Delimiter); err != nil {
		return nil, err
	}
	switch q := recipe.Text.Quote; {
	case q == "" && r.cutter.delimiter > byPosition && r.cutter.delimiter != '\t':
		r.cutter.quote = '"'
	case len(q) == 1:
		r.cutter.quote = q[0]
	}
	for _, c := range recipe.Text.Comment {
		if c != "" {
			r.comments = append(r.comments, []byte(c))
		}
	}
	if r.captures, err = newCaptures(recipe); err != nil {
		return nil, err
	}
	r.captures.sources.name, r.captures.sources.options = name, o
	r.lines = newLineReader(decoded(buffered, encoding, mark))
	if err := r.preamble(); err != nil {
		return nil, err
	}
	if err := r.rows(ctx); err != nil {
		return nil, err
	}
	if len(r.time) == 0 {
		return nil, r.noRows(src)
	}
	t := &table{day: r.clock.day, time: r.time, line: r.line, problems: r.problems, header: r.captures.items, record: r.captures.record,
		findings: append(r.captures.findings, r.findings...), jumpLimit: recipe.Time.JumpLimit}
	if src.cut != nil {
		f := lineFinding(quality.Syntax, sounding.Note, r.lines.number, r.lines.number)
		f.Sentence = fmt.Sprintf("the %s data end early (%v): the source is cut off after line %d; what came before is kept", src.packed, src.cut, r.lines.number)
		t.findings = append(t.findings, f)
	}
	if z := r.clock.zone; z.twice > 0 || z.skipped > 0 {
		f := lineFinding(quality.TimeOrder, sounding.Note, int(r.line[0]), int(r.line[len(r.line)-1]))
		f.Sentence = fmt.Sprintf("the clock of %s changes during the flight: %d rows in the hour that stands twice were put where time goes on, %d in the hour that does not exist were read by the offset before", z.zone, z.twice, z.skipped)
		t.findings = append(t.findings, f)
	}
	for i := range r.slots {
		s := &r.slots[i]
		switch s.kind {
		case slotValue:
			t.findings = append(t.findings, s.suspects.findings(s.variable, s.name)...)
			t.series = append(t.series, sounding.Series{Variable: s.variable, Values: s.values})
		case slotExtra:
			e := sounding.Extra{Name: s.name, Unit: s.unitName}
			if s.isText {
				e.Text = s.text
			} else {
				e.Values = s.values
			}
			t.extra = append(t.extra, e)
		}
	}
	return t, nil
}

// noRows says why nothing could be used.
func (r *textReader) noRows(src *opened) error {
	switch {
	case r.control*10 > r.head:
		return fmt.Errorf("%w: %d of the first %d bytes are no text; this looks like binary data, which a text recipe cannot read", ErrNoRows, r.control, r.head)
	case src.cut != nil:
		return fmt.Errorf("%w: the %s data end early: %v", ErrNoRows, src.packed, src.cut)
	case r.atRow == 0 && r.header != nil:
		return fmt.Errorf("%w: the source ends after its header (line %d)", ErrNoRows, r.lines.number)
	case r.atRow == 0:
		return fmt.Errorf("%w: the source ends before its data (%d lines)", ErrNoRows, r.lines.number)
	}
	p := r.problems.rows[0]
	return fmt.Errorf("%w: none of %d rows could be read; the first, line %d%s: %s (%q)", ErrNoRows, r.problems.unread(), p.line, place(p.column, p.name), p.reason, p.text)
}

// next returns the next line that is no comment and not blank. Comments are offered
// to the captures.
func (r *textReader) next() (line []byte, long bool, err error) {
	for {
		line, long, err = r.lines.next()
		if err != nil || long {
			return line, long, err
		}
		if r.comment(line) {
			if len(r.captures.patterns) > 0 && r.lines.number < maxPreamble+1_000_000 {
				r.captures.line(textOf(line, r.latin1), r.lines.number)
			}
			continue
		}
		if len(trimSpace(line)) == 0 {
			continue
		}
		return line, false, nil
	}
}

func trimSpace(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t' || b[0] == '\f' || b[0] == 0x1a) {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t' || b[len(b)-1] == '\f' || b[len(b)-1] == 0x1a) {
		b = b[:len(b)-1]
	}
	return b
}

func (r *textReader) comment(line []byte) bool {
	for _, c := range r.comments {
		if len(line) >= len(c) && string(line[:len(c)]) == string(c) {
			return true
		}
	}
	return false
}

// preamble reads everything before the rows and ties the columns.
func (r *textReader) preamble() error {
	p := &r.recipe.Preamble
	take := func() (string, error) {
		line, _, err := r.lines.next()
		if err != nil {
			return "", err
		}
		text := textOf(line, r.latin1)
		r.captures.line(text, r.lines.number)
		return text, nil
	}
	ended := func(err error, what string) error {
		if err == io.EOF {
			return fmt.Errorf("%w: the source ends at line %d, %s", ErrNoRows, r.lines.number, what)
		}
		return err
	}
	for i := 0; i < p.Lines; i++ {
		if _, err := take(); err != nil {
			return ended(err, fmt.Sprintf("before the %d lines of the preamble (preamble.lines) are over", p.Lines))
		}
	}
	if p.Until != "" {
		re, err := regexp.Compile(p.Until)
		if err != nil {
			return err
		}
		for {
			text, err := take()
			if err != nil {
				return ended(err, fmt.Sprintf("and no line matches preamble.until %q", p.Until))
			}
			if re.MatchString(text) {
				break
			}
			if r.lines.number > maxPreamble {
				return fmt.Errorf("none of the first %d lines matches preamble.until %q", maxPreamble, p.Until)
			}
		}
	}
	var headText string
	switch {
	case p.HeaderRow != "":
		re, err := regexp.Compile(p.HeaderRow)
		if err != nil {
			return err
		}
		for {
			text, err := take()
			if err != nil {
				return ended(err, fmt.Sprintf("and no line matches preamble.header_row %q", p.HeaderRow))
			}
			if re.MatchString(text) {
				headText = text
				break
			}
			if r.lines.number > maxPreamble {
				return fmt.Errorf("none of the first %d lines matches preamble.header_row %q", maxPreamble, p.HeaderRow)
			}
		}
	case p.Header:
		line, _, err := r.next()
		if err != nil {
			return ended(err, "before the header row")
		}
		headText = textOf(line, r.latin1)
	}
	if p.HeaderRow != "" || p.Header {
		text := headText
		for _, c := range r.recipe.Text.Comment { // a header behind a comment sign
			if c != "" && strings.HasPrefix(text, c) && p.HeaderRow != "" {
				text = strings.TrimPrefix(text, c)
				break
			}
		}
		r.headerRaw = strings.TrimSpace(headText)
		r.header = r.texts(text)
		if len(r.header) > maxColumns {
			return fmt.Errorf("line %d: the header has more than %d columns", r.lines.number, maxColumns)
		}
	}
	if p.Units {
		line, _, err := r.lines.next()
		if err != nil {
			return ended(err, "before the unit row")
		}
		text := textOf(line, r.latin1)
		for _, c := range r.recipe.Text.Comment {
			if c != "" && strings.HasPrefix(text, c) {
				text = strings.TrimPrefix(text, c)
				break
			}
		}
		r.unitRow = r.texts(text)
	}
	for i := 0; i < p.SkipAfter; i++ {
		if _, _, err := r.lines.next(); err != nil {
			return ended(err, "before its data")
		}
	}
	return nil
}

// texts cuts a line of words.
func (r *textReader) texts(text string) []string {
	line := []byte(text)
	var out []string
	for _, f := range r.cutter.cut(line) {
		out = append(out, string(r.cutter.of(line, f)))
	}
	for len(out) > 0 && out[len(out)-1] == "" {
		out = out[:len(out)-1]
	}
	return out
}

// find returns the column (from 0) that a recipe's names or number mean, -1 where
// there is none.
func (r *textReader) find(names []string, number int) (int, error) {
	if number > 0 {
		return number - 1, nil
	}
	for _, way := range []func(head, name string) bool{
		func(head, name string) bool { return head == name },
		strings.EqualFold,
		func(head, name string) bool { h, _ := headUnit(head); return strings.EqualFold(h, name) },
	} {
		for _, n := range names {
			at := -1
			for i, h := range r.header {
				if way(h, n) {
					if at >= 0 {
						return -1, fmt.Errorf("column %q stands twice, as %d and %d: say which by its number", n, at+1, i+1)
					}
					at = i
				}
			}
			if at >= 0 {
				return at, nil
			}
		}
	}
	return -1, nil
}

// tie makes the slots for rows of n fields.
func (r *textReader) tie(n int) error {
	fixed := r.cutter.delimiter == byPosition
	r.slots = make([]slot, n)
	for i := range r.slots {
		s := &r.slots[i]
		s.kind, s.hemisphere, s.name = slotExtra, -1, fmt.Sprintf("column_%d", i+1)
		s.missing(r.recipe.Text.Missing, r.decimal)
		if i < len(r.header) && r.header[i] != "" {
			s.name, s.unitName = headUnit(r.header[i])
		}
		if i < len(r.unitRow) {
			s.unitName = bareUnit(r.unitRow[i])
		}
		if r.recipe.OnlyColumns || contains(r.recipe.Drop, s.name) {
			s.kind = slotSkip
		}
	}
	columns := r.recipe.Time.Columns
	if r.recipe.Time.Column != "" {
		columns = []string{r.recipe.Time.Column}
	}
	for _, name := range columns {
		at, err := r.column(name, fixed)
		if err != nil {
			return fmt.Errorf("time: %w", err)
		}
		if at < 0 || at >= n {
			return fmt.Errorf("the time column %q is not in the source: its columns are %s", name, r.headings(n))
		}
		r.slots[at].kind = slotTime
		r.timeAt = append(r.timeAt, at)
	}
	for i := range r.recipe.Columns {
		c := &r.recipe.Columns[i]
		at := i
		if !fixed {
			var err error
			if at, err = r.find(c.names(), c.Number); err != nil {
				return err
			}
		}
		if at < 0 || at >= n {
			if c.Optional {
				continue
			}
			return fmt.Errorf("column %s (%v) is not in the source: its columns are %s; set optional = true where it may be absent", c.label(), c.Variable, r.headings(n))
		}
		s := &r.slots[at]
		if s.kind == slotTime {
			if fixed {
				continue
			}
			return fmt.Errorf("column %s is the time already", c.label())
		}
		if err := r.give(s, c, at); err != nil {
			return err
		}
		if c.Hemisphere != "" {
			h, err := r.column(c.Hemisphere, fixed)
			if err != nil {
				return err
			}
			if h < 0 || h >= n || h == at {
				return fmt.Errorf("the hemisphere column %q of %s is not in the source", c.Hemisphere, c.label())
			}
			s.hemisphere = h
			if r.slots[h].kind == slotExtra {
				r.slots[h].kind = slotSkip
			}
		}
	}
	if name := r.recipe.Text.Serial; name != "" {
		at, err := r.column(name, fixed)
		if err != nil {
			return err
		}
		if at < 0 || at >= n || r.slots[at].kind == slotTime {
			return fmt.Errorf("the serial column %q is not in the source: its columns are %s", name, r.headings(n))
		}
		s := &r.slots[at]
		s.kind, s.name, s.unitName, s.isText = slotExtra, SerialColumn, "", true
	}
	r.distinctExtras()
	r.expected = n
	return nil
}

// SerialColumn is the name of the extra column that holds the serial number of the
// radiosonde that sent each row.
const SerialColumn = "serial"

// distinctExtras gives extra columns of one name a number.
func (r *textReader) distinctExtras() {
	seen := map[string]int{}
	for i := range r.slots {
		s := &r.slots[i]
		if s.kind != slotExtra {
			continue
		}
		s.name = clean(s.name)
		seen[s.name]++
		if k := seen[s.name]; k > 1 {
			s.name = fmt.Sprintf("%s_%d", s.name, k)
		}
	}
}

// column finds a column by header text, by its number, or among fixed columns by
// the name its recipe gives it.
func (r *textReader) column(name string, fixed bool) (int, error) {
	if fixed {
		for i := range r.recipe.Columns {
			if c := &r.recipe.Columns[i]; contains(c.names(), name) {
				return i, nil
			}
		}
		return -1, nil
	}
	if at, err := r.find([]string{name}, 0); err != nil || at >= 0 {
		return at, err
	}
	if k, err := strconv.Atoi(name); err == nil && k > 0 && k <= maxColumns {
		return k - 1, nil
	}
	return -1, nil
}

func (r *textReader) headings(n int) string {
	if len(r.header) == 0 {
		return fmt.Sprintf("%d without names", n)
	}
	var out []string
	for i, h := range r.header {
		if i == 40 {
			out = append(out, "…")
			break
		}
		out = append(out, fmt.Sprintf("%q", shown(h)))
	}
	return strings.Join(out, ", ")
}

// bareUnit takes brackets off a cell of the unit row.
func bareUnit(cell string) string {
	name, unit := headUnit(cell)
	if name == "" {
		return unit
	}
	return strings.TrimSpace(cell)
}

// give ties a recipe's column to a field.
func (r *textReader) give(s *slot, c *ColumnRecipe, at int) error {
	if s.kind == slotValue {
		return fmt.Errorf("column %s and another column of the recipe mean the same field %d", c.label(), at+1)
	}
	if c.Extra != "" {
		s.kind, s.name = slotExtra, c.Extra
		if c.Unit != "" {
			s.unitName = c.Unit
		}
	}
	s.missing(c.Missing, r.decimal)
	s.scale = c.Scale
	if s.scale == 0 {
		s.scale = 1
	}
	if c.Variable == sounding.NoVariable {
		return nil
	}
	for i := range r.slots {
		if r.slots[i].kind == slotValue && r.slots[i].variable == c.Variable {
			return fmt.Errorf("column %s: %v is already column %q", c.label(), c.Variable, r.slots[i].name)
		}
	}
	info := c.Variable.Info()
	s.kind, s.variable, s.dimension = slotValue, c.Variable, info.Dimension
	unit := c.Unit
	if unit == "" {
		unit = s.unitName
	}
	if unit == "" && info.Dimension != units.None {
		return fmt.Errorf("column %s (%v): no unit is given by the recipe, a unit row or the header: add unit = %q or what it is", c.label(), c.Variable, units.Inner(info.Dimension).Name)
	}
	u, err := units.Lookup(unit, info.Dimension)
	if err != nil {
		return fmt.Errorf("column %s (%v): %w", c.label(), c.Variable, err)
	}
	s.unit = u
	s.plain = u.Identity() && s.scale == 1
	s.position = info.Dimension == units.Latitude || info.Dimension == units.Longitude
	s.longitude = info.Dimension == units.Longitude
	return nil
}

// missing adds tokens for "no value".
func (s *slot) missing(tokens []string, decimal byte) {
	for _, m := range tokens {
		m = strings.TrimSpace(m)
		if x, ok := parseNumber([]byte(m), decimal); ok {
			s.numbers = append(s.numbers, x)
		} else if x, ok := parseNumber([]byte(m), '.'); ok {
			s.numbers = append(s.numbers, x)
		} else {
			s.words = append(s.words, m)
		}
	}
}

// rows reads the data.
func (r *textReader) rows(ctx context.Context) error {
	if r.cutter.delimiter == byPosition {
		for i := range r.recipe.Columns {
			c := &r.recipe.Columns[i]
			if c.Start == 0 {
				return fmt.Errorf("column %s: fixed columns need start and width", c.label())
			}
			r.cutter.fixed = append(r.cutter.fixed, field{c.Start - 1, c.Start - 1 + c.Width})
		}
		if len(r.cutter.fixed) == 0 {
			return errors.New("fixed columns need [[column]] entries with start and width")
		}
	}
	limit := r.options.rows()
	for {
		line, long, err := r.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		r.atRow++
		if r.atRow&4095 == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		if long {
			r.problems.row(r.lines.number, 0, "", textOf(line[:min(len(line), 80)], r.latin1), fmt.Sprintf("the line is longer than %d bytes", maxLine))
			continue
		}
		if r.slots == nil {
			if err := r.begin(line); err != nil {
				return err
			}
		}
		r.row(line)
		if len(r.time) > limit {
			return fmt.Errorf("more than %d rows: more than one flight can have; cut the source, or raise the limit", limit)
		}
		if len(r.time)*len(r.slots) > maxValues {
			return fmt.Errorf("more than %d values (%d rows of %d columns): more than one flight can have; cut the source or keep fewer columns", maxValues, len(r.time), len(r.slots))
		}
	}
	if r.slots == nil {
		if r.header == nil {
			return nil
		}
		return r.begin(nil)
	}
	return nil
}

// begin ties columns and clock when the first row is there.
func (r *textReader) begin(line []byte) error {
	n := len(r.header)
	if r.cutter.delimiter == byPosition {
		n = len(r.cutter.fixed)
	} else if line != nil {
		fields := r.cutter.cut(line)
		if n == 0 {
			n = len(fields)
		}
		// A header cut by blanks may name fewer or more columns than there are.
	}
	if n > maxColumns {
		return fmt.Errorf("line %d: more than %d columns", r.lines.number, maxColumns)
	}
	if n == 0 {
		return fmt.Errorf("%w: line %d has no fields", ErrNoRows, r.lines.number)
	}
	if err := r.tie(n); err != nil {
		return err
	}
	r.captures.finish()
	var err error
	r.clock, err = newClock(&r.recipe.Time, r.decimal, r.captures.sources)
	return err
}

// row reads one data row.
func (r *textReader) row(line []byte) {
	number := r.lines.number
	fields := r.cutter.cut(line)
	for len(fields) > r.expected && fields[len(fields)-1].from == fields[len(fields)-1].to {
		fields = fields[:len(fields)-1]
	}
	cut := !r.lines.terminated && len(r.time) > 0 && r.cutter.delimiter != byPosition
	n := len(fields)
	if n != r.expected {
		short := n < r.expected
		switch {
		case short && cut:
		case short && r.cutter.delimiter > byPosition && n > 1:
		default:
			reason := fmt.Sprintf("%d fields, %d expected", n, r.expected)
			if n == 1 {
				reason = fmt.Sprintf("1 field, %d expected", r.expected)
			}
			if r.headerRaw != "" && strings.TrimSpace(textOf(line, r.latin1)) == r.headerRaw {
				reason = "the header again"
			}
			r.problems.row(number, 0, "", textOf(line[:min(len(line), 200)], r.latin1), reason)
			return
		}
	}
	lost := -1 // a last field that may be cut within its figures
	if cut {
		lost = r.truncated(line, fields, number)
	}
	stamp, at := r.timeText(line, fields)
	if lost >= 0 && r.isTime(lost) {
		r.problems.forget(len(r.time))
		r.problems.row(number, lost+1, r.slots[lost].name, textOf(line[:min(len(line), 200)], r.latin1), "the last line is cut off within its time")
		return
	}
	var t float64
	ok := at >= 0 && len(stamp) > 0
	if ok {
		t, ok = r.clock.read(stamp)
	}
	if !ok {
		at = max(at, 0)
		reason := "no time"
		if len(stamp) > 0 {
			reason = "the time does not fit"
			if r.recipe.Time.Layout != "" {
				reason += " layout " + r.recipe.Time.Layout
			}
			if r.headerRaw != "" && strings.TrimSpace(textOf(line, r.latin1)) == r.headerRaw {
				reason = "the header again"
			}
		}
		r.problems.forget(len(r.time)) // what was said of its cut end, now that it is no row
		r.problems.row(number, at+1, r.slots[at].name, textOf(stamp, r.latin1), reason)
		return
	}
	row := len(r.time)
	good, bad := 0, 0
	for i := range r.slots {
		s := &r.slots[i]
		if s.kind <= slotTime {
			continue
		}
		var b []byte
		if i < n && i != lost {
			b = r.cutter.of(line, fields[i])
		}
		if s.kind == slotExtra {
			r.extra(s, b, row)
			continue
		}
		x := math.NaN()
		if len(b) > 0 {
			var ok bool
			if x, ok = parseNumber(b, r.decimal); ok {
				good++
				for _, m := range s.numbers {
					if x == m {
						x = math.NaN()
					}
				}
				if x < -90 || x > 998 {
					s.suspects.look(s.variable, x, number)
				}
				if !s.plain && x == x {
					scaled := s.unit.Inside(x * s.scale)
					if scaled != scaled || math.IsInf(scaled, 0) {
						r.problems.value(row, number, i+1, s.name, s.variable, string(b), "cannot be a "+s.dimension)
						scaled = math.NaN()
					}
					x = scaled
				}
			} else if reason := r.word(s, b, &x); reason != "" {
				bad++
				r.problems.value(row, number, i+1, s.name, s.variable, textOf(b[:min(len(b), 200)], r.latin1), reason)
			}
			if s.hemisphere >= 0 && x == x {
				x = r.signed(s, line, fields, x, row, number)
			}
			if s.position && x == x {
				if s.longitude && x > 180 && x <= 360 {
					x -= 360
				}
				if x > 180 || x < -180 || !s.longitude && (x > 90 || x < -90) {
					r.problems.value(row, number, i+1, s.name, s.variable, textOf(b[:min(len(b), 40)], r.latin1), "cannot be a "+s.dimension)
					x = math.NaN()
				}
			}
		}
		s.values = append(s.values, x)
	}
	if lost >= 0 && good == 0 {
		r.takeBack(row)
		r.problems.row(number, lost+1, r.slots[lost].name, textOf(line[:min(len(line), 200)], r.latin1), "the last line is cut off before its first value")
		return
	}
	if bad > 0 && good == 0 {
		r.takeBack(row)
		r.problems.row(number, 0, "", textOf(line[:min(len(line), 200)], r.latin1), "none of its values is a number")
		return
	}
	if n < r.expected && lost < 0 {
		r.problems.note(row, number, true, fmt.Sprintf("line %d has %d of %d fields: the others are missing, the row is kept", number, n, r.expected))
	}
	r.time = append(r.time, t)
	r.line = append(r.line, int32(min(number, math.MaxInt32)))
	r.lastDot = -1
	if n > 0 {
		r.lastDot = decimals(line[fields[n-1].from:fields[n-1].to], r.decimal)
	}
}

// isTime tells whether a field is part of the time.
func (r *textReader) isTime(at int) bool {
	for _, k := range r.timeAt {
		if k == at {
			return true
		}
	}
	return false
}

// takeBack drops what a row that failed has left in the columns.
func (r *textReader) takeBack(row int) {
	for i := range r.slots {
		s := &r.slots[i]
		if len(s.values) > row {
			s.values = s.values[:row]
		}
		if len(s.text) > row {
			s.text = s.text[:row]
		}
	}
	r.problems.forget(row)
}

// truncated looks at the last line of a source without an end of line: too few
// fields, or fewer decimals in the last field than the row before. It returns the
// field that cannot be trusted, or -1.
func (r *textReader) truncated(line []byte, fields []field, number int) int {
	n := len(fields)
	if n == 0 {
		return -1
	}
	last := fields[n-1]
	if n < r.expected {
		r.problems.note(len(r.time), number, false, fmt.Sprintf("the last line (%d) is cut off after %d of %d fields: its last field %q and those behind it are missing", number, n, r.expected, shown(textOf(line[last.from:last.to], r.latin1))))
		return n - 1
	}
	if d := decimals(line[last.from:last.to], r.decimal); r.lastDot > 0 && d < r.lastDot {
		if _, ok := parseNumber(line[last.from:last.to], r.decimal); ok || last.from == last.to {
			r.problems.note(len(r.time), number, false, fmt.Sprintf("the last line (%d) has no end and its last field %q has fewer decimals than the row before: it may be cut off, so that field is missing", number, shown(textOf(line[last.from:last.to], r.latin1))))
			return n - 1
		}
	}
	return -1
}

func decimals(b []byte, point byte) int {
	for i := len(b) - 1; i >= 0; i-- {
		if b[i] == point {
			return len(b) - 1 - i
		}
		if b[i] < '0' || b[i] > '9' {
			return -1
		}
	}
	return 0
}

// timeText returns the text of the time of a row and the field it begins in, -1
// where the row does not have it.
func (r *textReader) timeText(line []byte, fields []field) ([]byte, int) {
	if len(r.timeAt) == 1 {
		at := r.timeAt[0]
		if at >= len(fields) {
			return nil, -1
		}
		return r.cutter.of(line, fields[at]), at
	}
	r.joined = r.joined[:0]
	for k, at := range r.timeAt {
		if at >= len(fields) {
			return nil, -1
		}
		if k > 0 {
			r.joined = append(r.joined, ' ')
		}
		r.joined = append(r.joined, r.cutter.of(line, fields[at])...)
	}
	return r.joined, r.timeAt[0]
}

// word reads a field that is no plain number: a missing token, or a position in
// degrees and minutes. It returns why the field could not be read, "" where it could.
func (r *textReader) word(s *slot, b []byte, x *float64) string {
	if isMissingToken(b) {
		return ""
	}
	for _, w := range s.words {
		if string(b) == w {
			return ""
		}
	}
	if s.position && len(b) < 60 {
		if v, err := units.Parse(textOf(b, r.latin1), s.dimension, s.unit.Name); err == nil {
			*x = v
			return ""
		}
	}
	if v, ok := parseNumber(b, '.'+','-r.decimal); ok && !math.IsNaN(v) {
		return "has the other decimal sign than the recipe says"
	}
	return "is no number"
}

// signed applies the hemisphere that stands in a column of its own.
func (r *textReader) signed(s *slot, line []byte, fields []field, x float64, row, number int) float64 {
	if s.hemisphere < len(fields) {
		b := r.cutter.of(line, fields[s.hemisphere])
		if len(b) == 1 {
			switch c := b[0] &^ 0x20; {
			case c == 'N' && !s.longitude, c == 'E' && s.longitude:
				return math.Abs(x)
			case c == 'S' && !s.longitude, c == 'W' && s.longitude:
				return -math.Abs(x)
			}
		}
		r.problems.value(row, number, s.hemisphere+1, s.name, s.variable, textOf(b[:min(len(b), 20)], r.latin1), "is no hemisphere")
	}
	return math.NaN()
}

// extra appends a field to a column that is kept as it is.
func (r *textReader) extra(s *slot, b []byte, row int) {
	if len(b) > maxText {
		b = b[:maxText]
	}
	if s.isText {
		s.text = append(s.text, r.intern(b))
		return
	}
	x, ok := math.NaN(), true
	if len(b) > 0 {
		if x, ok = parseNumber(b, r.decimal); !ok {
			ok = isMissingToken(b) || contains(s.words, string(b))
		}
		if ok {
			for _, m := range s.numbers {
				if x == m {
					x = math.NaN()
				}
			}
		}
	}
	if !ok {
		// Text after all: the first rows are kept as they stood, later numbers are written anew.
		s.isText = true
		for i := len(s.text); i < row; i++ {
			s.text = append(s.text, formatShort(s.values[i]))
		}
		s.text = append(s.text[:row], r.intern(b))
		s.values = nil
		return
	}
	if row < earlyTexts {
		s.text = append(s.text, r.intern(b))
	}
	s.values = append(s.values, x)
}

func formatShort(x float64) string {
	if x != x {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

func (r *textReader) intern(b []byte) string {
	if s, ok := r.interned[string(b)]; ok {
		return s
	}
	s := clean(textOf(b, r.latin1))
	if len(r.interned) < 10_000 {
		r.interned[string(b)] = s
	}
	return s
}
