package ingest

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"leadline/internal/sounding"
	"leadline/internal/units"
)

// guessLines is how many lines of a source a guess looks at.
const guessLines = 2000

// Doubt is one thing a guessed recipe is unsure of.
type Doubt struct {
	Where string // column, time, text, …
	Text  string // what was taken, why, and what else it could be
}

// String returns the doubt as one line.
func (d Doubt) String() string { return d.Where + ": " + d.Text }

// Guess makes a recipe from the first bytes of a source (64 KiB are plenty; packed or
// not) and its name. It returns the recipe, what it is unsure of, and the recipe as
// commented TOML for editing. Orders of day and month, units and zones that the
// source does not say are taken as stated in a doubt, never silently.
func Guess(head []byte, name string) (*Recipe, []Doubt, string, error) {
	plain := unpackedHead(head, 1<<20)
	if len(plain) == 0 {
		return nil, nil, "", fmt.Errorf("%w: the source is empty or cannot be unpacked", ErrNoRows)
	}
	for _, s := range []struct {
		is   bool
		name string
	}{{isNetCDF(plain), "cf"}, {isArchive(plain), "igra"}} {
		if s.is {
			r, text, err := ShippedRecipe(s.name)
			return r, nil, string(text), err
		}
	}
	control := 0
	for _, c := range plain[:min(len(plain), 16<<10)] {
		if c < 0x20 && c != '\n' && c != '\r' && c != '\t' && c != '\f' {
			control++
		}
	}
	encoding, _ := sniffEncoding(plain)
	if !strings.HasPrefix(encoding, "utf-16") && control*10 > min(len(plain), 16<<10) {
		return nil, nil, "", errors.New("this looks like binary data: neither text nor netCDF")
	}
	g := &guesser{name: name, encoding: encoding, lines: headLines(plain, guessLines)}
	if err := g.layout(); err != nil {
		return nil, nil, "", err
	}
	g.heads()
	g.read()
	if err := g.time(); err != nil {
		return nil, nil, "", err
	}
	g.columns()
	g.preamble()
	text := g.toml()
	r, err := ReadRecipe("guessed recipe", []byte(text))
	if err != nil {
		return nil, nil, "", fmt.Errorf("no recipe could be guessed: %w", err)
	}
	return r, g.doubts, text, nil
}

// guessColumn is one column as the guess sees it.
type guessColumn struct {
	number        int // from 1
	head, unitRow string
	texts         []string
	values        []float64 // of the texts, NaN where none
	numbers       int
	present       int // texts that are not blank
	variable      sounding.Variable
	name, unit    string // of the head
	missing       []string
	time          bool
	outUnit       string
	hemisphere    int // column that holds the hemisphere, -1 none
}

type guesser struct {
	name, encoding string
	lines          []string
	delimiter      byte
	decimal        byte
	comments       []string
	first, last    int // lines of data, from 0, last excluded
	headLine       int // -1 none
	unitLine       int
	cutter         cutter
	cols           []guessColumn
	missing        map[string]bool
	doubts         []Doubt
	timeTOML       string
	captures       []string
	rowsSeen       int
}

func (g *guesser) doubt(where, format string, args ...any) {
	g.doubts = append(g.doubts, Doubt{where, fmt.Sprintf(format, args...)})
}

// commentSigns are the prefixes that are looked for.
var commentSigns = []string{"#", "!", "%", "//", "\"#"}

// layout finds delimiter, decimal sign and the rows of data: the cut under which the
// longest run of lines has one number of fields, most of them numbers.
func (g *guesser) layout() error {
	best := -1.0
	for _, d := range []byte{';', '\t', ',', '|', byWhitespace} {
		for _, point := range []byte{'.', ','} {
			if d == ',' && point == ',' {
				continue
			}
			c := cutter{delimiter: d}
			if d > byPosition && d != '\t' {
				c.quote = '"'
			}
			from, to, fields, share := g.run(&c, point)
			if to == from || fields < 2 {
				continue
			}
			score := float64(to-from) * share * math.Min(float64(fields), 12)
			if d == byWhitespace {
				score *= 0.7 // blanks also part what another sign parts better
			}
			if point == ',' {
				score *= 0.99
			}
			if score > best*1.0001 {
				best = score
				g.delimiter, g.decimal, g.cutter, g.first, g.last = d, point, c, from, to
			}
		}
	}
	if best < 0 {
		return fmt.Errorf("%w: no lines of the source look like rows of numbers", ErrNoRows)
	}
	g.rowsSeen = g.last - g.first
	if g.rowsSeen < 5 {
		g.doubt("text", "only %d rows were seen to guess from", g.rowsSeen)
	}
	return nil
}

// numberLike tells whether a text is a number, a missing token, a time or a position.
func numberLike(s string, point byte) (number, other bool) {
	b := []byte(s)
	if _, ok := parseNumber(b, point); ok {
		return true, false
	}
	if isMissingToken(b) {
		return false, true
	}
	for _, list := range [][]*layout{stampLayouts, clockLayouts, dateLayouts} {
		for _, l := range list {
			if _, ok := l.read(b); ok {
				return false, true
			}
		}
	}
	if dayFirst().MatchString(s) {
		return false, true
	}
	if len(s) > 3 && strings.ContainsAny(s, "NSEWnsew°'") && strings.ContainsAny(s, "0123456789") {
		for _, d := range []string{units.Latitude, units.Longitude} {
			if _, err := units.ParsePosition(s, d); err == nil {
				return false, true
			}
		}
	}
	return false, false
}

var dayFirst = lazyPattern(`^\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4}([ T]\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?)?$`)

// run finds the longest run of lines of one field count that are mostly numbers.
func (g *guesser) run(c *cutter, point byte) (from, to, fields int, share float64) {
	start, count, numbers, total := -1, 0, 0, 0
	bad := 0
	end := 0
	flush := func() {
		if start >= 0 && total > 0 && end-start > to-from {
			s := float64(numbers) / float64(total)
			if s >= 0.3 {
				from, to, fields, share = start, end, count, s
			}
		}
		start = -1
	}
	for i, l := range g.lines {
		if strings.TrimSpace(l) == "" {
			continue
		}
		line := []byte(l)
		cut := c.cut(line)
		for len(cut) > 0 && cut[len(cut)-1].from == cut[len(cut)-1].to && c.delimiter > byPosition && len(cut) > count && start >= 0 {
			cut = cut[:len(cut)-1]
		}
		n, like := 0, 0
		for k, f := range cut {
			if k == 60 {
				break
			}
			isNumber, other := numberLike(string(c.of(line, f)), point)
			if isNumber {
				n++
			}
			if isNumber || other {
				like++
			}
		}
		good := len(cut) >= 2 && n >= 1 && like*2 > min(len(cut), 60)
		if good && start >= 0 && len(cut) == count {
			numbers, total, end = numbers+n, total+len(cut), i+1
			continue
		}
		if start >= 0 && end-start >= 5 && bad < 1+(end-start)/20 {
			bad++ // a broken row among many does not end the data
			continue
		}
		flush()
		bad = 0
		if good {
			start, count, numbers, total, end = i, len(cut), n, len(cut), i+1
		}
	}
	flush()
	return from, to, fields, share
}

// heads finds the header and unit rows above the data.
func (g *guesser) heads() {
	g.headLine, g.unitLine = -1, -1
	n := len(g.cutter.cut([]byte(g.lines[g.first])))
	g.cols = make([]guessColumn, n)
	words := func(i int) []string {
		l := g.lines[i]
		for _, c := range commentSigns {
			if t, ok := strings.CutPrefix(strings.TrimSpace(l), c); ok {
				l = strings.TrimLeft(t, " ")
				break
			}
		}
		line := []byte(l)
		var out []string
		for _, f := range g.cutter.cut(line) {
			out = append(out, string(g.cutter.of(line, f)))
		}
		return out
	}
	fits := func(w []string) bool {
		if len(w) < n {
			return len(w) >= n-1 && n > 2
		}
		return len(w) == n || len(w) == n+1 && w[n] == ""
	}
	unitLike := func(w []string) bool {
		known, filled, heads := 0, 0, 0
		for _, s := range w {
			s = strings.Trim(s, "[](){} ")
			if s == "" {
				continue
			}
			filled++
			if v, _, _ := headOf(s); v != sounding.NoVariable || among(wordsStamp, foldHead(s)) && foldHead(s) != "utc" && foldHead(s) != "s" {
				heads++
			}
			if knownUnit(s) || s == "-" || s == "1" || s == "V" || s == "dBm" || s == "dB" || strings.Contains(s, "hh:mm") || strings.Contains(strings.ToLower(s), "yyyy") || strings.EqualFold(s, "utc") || strings.EqualFold(s, "none") {
				known++
			}
		}
		return filled > 0 && known*10 >= filled*6 && heads*2 < filled
	}
	// The nearest lines above the data that hold something.
	var above []int
	for i := g.first - 1; i >= 0 && len(above) < 3; i-- {
		if t := strings.Trim(g.lines[i], " \t-=_+|;,"); t != "" {
			above = append(above, i)
		}
	}
	if len(above) == 0 {
		return
	}
	w := words(above[0])
	if fits(w) && unitLike(w) {
		g.unitLine = above[0]
		for k := range min(len(w), n) {
			g.cols[k].unitRow = bareUnit(w[k])
		}
		if len(above) < 2 {
			return
		}
		above = above[1:]
		w = words(above[0])
	}
	if !fits(w) {
		g.unitLine = -1
		for k := range g.cols {
			g.cols[k].unitRow = ""
		}
		return
	}
	named := 0
	for _, s := range w {
		if _, ok := parseNumber([]byte(s), g.decimal); !ok && s != "" {
			named++
		}
	}
	if named*2 <= len(w) {
		return
	}
	g.headLine = above[0]
	for k := range min(len(w), n) {
		g.cols[k].head = w[k]
	}
}

// read takes the texts and numbers of all rows apart into columns.
func (g *guesser) read() {
	n := len(g.cols)
	g.missing = map[string]bool{}
	for i := g.first; i < g.last; i++ {
		line := []byte(g.lines[i])
		cut := g.cutter.cut(line)
		if len(cut) < n {
			continue
		}
		for k := range n {
			c := &g.cols[k]
			s := string(g.cutter.of(line, cut[k]))
			x, ok := parseNumber([]byte(s), g.decimal)
			if ok {
				c.numbers++
			}
			if s != "" {
				c.present++
			}
			c.texts, c.values = append(c.texts, s), append(c.values, x)
		}
	}
	for k := range g.cols {
		g.cols[k].hemisphere, g.cols[k].number = -1, k+1
	}
	for _, l := range g.lines[:g.first] {
		for _, c := range commentSigns {
			if strings.HasPrefix(l, c) && !contains(g.comments, c) {
				g.comments = append(g.comments, c)
			}
		}
	}
	if g.decimal == ',' {
		return
	}
	// A decimal comma that was not needed to read the rows is no comma.
}

// sentinels are numbers that archives and receivers write for "no value".
var sentinels = []float64{-9999, -999, -99999, -999.9, -9999.9, -99.9, -99, 9999, 99999, 999999, 999, 999.9, 9999.9, -32768, 32767, -9.99, -99.99, -999.99, -9999.99, 1e20, 9.9e20}

// clear takes numbers that mean "no value" out of a column of a known variable.
func (g *guesser) clear(c *guessColumn) {
	low, high := physical(c.variable)
	seen := map[float64]int{}
	for i, x := range c.values {
		if x != x {
			s := c.texts[i]
			if s != "" && !isMissingToken([]byte(s)) && len(s) <= 10 && c.numbers > 0 && g.isWord(c, s) {
				if !contains(c.missing, s) {
					c.missing = append(c.missing, s)
				}
			}
			continue
		}
		if x < low || x > high {
			for _, s := range sentinels {
				if x == s {
					seen[s]++
				}
			}
		}
	}
	for _, s := range sentinels {
		if seen[s] == 0 {
			continue
		}
		t := formatShort(s)
		if !g.missing[t] {
			g.missing[t] = true
			g.doubt(c.label(), "%s stands in %d of %d rows and cannot be a %v: it is taken for \"no value\"", t, seen[s], len(c.values), c.variable)
		}
		for i := range c.values {
			if c.values[i] == s {
				c.values[i] = math.NaN()
			}
		}
	}
	for _, s := range c.missing {
		if !g.missing[s] {
			g.missing[s] = true
			g.doubt(c.label(), "%q stands among the numbers: it is taken for \"no value\"", s)
		}
	}
}

// isWord tells whether a text that is no number repeats in a column of numbers.
func (g *guesser) isWord(c *guessColumn, s string) bool {
	if strings.ContainsAny(s, "0123456789") {
		return false
	}
	n := 0
	for _, t := range c.texts {
		if t == s {
			n++
		}
	}
	return n >= 2 || len(c.texts) < 20
}

// physical is the range a variable has in any unit of its table; far wider than the
// air's, for sentinels alone.
func physical(v sounding.Variable) (low, high float64) {
	switch v.Info().Dimension {
	case units.Pressure:
		return 0, 115000
	case units.Temperature:
		return -130, 350
	case units.Humidity:
		return -20, 130
	case units.Angle:
		return -1e-9, 361
	case units.Speed:
		return -98, 700
	case units.Latitude, units.Longitude:
		return -18100, 36100
	case units.Length:
		return -500, 170000
	}
	return math.Inf(-1), math.Inf(1)
}

func (c *guessColumn) label() string {
	if c.head != "" {
		return fmt.Sprintf("column %q", shown(c.head))
	}
	return fmt.Sprintf("column %d", c.number)
}

// time finds the time basis.
func (g *guesser) time() error {
	all := func(k int, list []*layout) (*layout, bool) {
		c := &g.cols[k]
		for _, l := range list {
			hits, tried := 0, 0
			for _, s := range c.texts {
				if s == "" || isMissingToken([]byte(s)) {
					continue
				}
				tried++
				if _, ok := l.read([]byte(s)); ok {
					hits++
				}
			}
			if tried > 0 && hits*10 >= tried*9 {
				return l, true
			}
		}
		return nil, false
	}
	folded := func(k int) string {
		name, _ := headUnit(g.cols[k].head)
		return foldHead(name)
	}
	ref := func(k int) string {
		if g.cols[k].head != "" {
			same := 0
			for i := range g.cols {
				if strings.EqualFold(g.cols[i].head, g.cols[k].head) {
					same++
				}
			}
			if same == 1 {
				return g.cols[k].head
			}
		}
		return strconv.Itoa(k + 1)
	}
	local := func(ks ...int) bool {
		for _, k := range ks {
			f := folded(k) + " " + foldHead(g.cols[k].unitRow)
			if strings.Contains(f, "local") || strings.Contains(f, "lokal") || strings.Contains(f, "ortszeit") {
				return true
			}
		}
		return false
	}
	stamped := func(l string, ks ...int) {
		var names []string
		for _, k := range ks {
			g.cols[k].time = true
			names = append(names, strconv.Quote(ref(k)))
		}
		kind := "utc"
		zone := ""
		if local(ks...) {
			kind = "local"
			zone = g.zone()
		}
		g.timeTOML = fmt.Sprintf("kind = %q\ncolumns = [%s]\nlayout = %s\n%s", kind, strings.Join(names, ", "), quoteTOML(l), zone)
		if kind == "utc" && !strings.Contains(l, "ZZ") {
			said := false
			for _, k := range ks {
				f := strings.ToLower(g.cols[k].head + " " + g.cols[k].unitRow)
				said = said || strings.Contains(f, "utc") || strings.Contains(f, "gmt") || strings.HasSuffix(strings.TrimSpace(f), " z")
			}
			if !said {
				g.doubt("time", "nothing says which zone the clock is in: UTC is taken; for local time set kind = \"local\" and zone")
			}
		}
	}
	// One column with date and time.
	for k := range g.cols {
		if g.cols[k].numbers > 0 && len(g.cols[k].texts) > 0 && len(g.cols[k].texts[0]) < 14 {
			continue
		}
		if l, ok := all(k, stampLayouts); ok {
			stamped(l.text, k)
			return nil
		}
		if l, ok := g.dayFirst(k, true); ok {
			stamped(l, k)
			return nil
		}
	}
	// A date column and a clock column.
	for d := range g.cols {
		l, ok := "", false
		if found, fine := all(d, dateLayouts); fine && (g.cols[d].numbers == 0 || among(wordsDate, folded(d))) {
			l, ok = found.text, true
		} else if found, fine := g.dayFirst(d, false); fine {
			l, ok = found, true
		}
		if !ok {
			continue
		}
		for k := range g.cols {
			if k == d {
				continue
			}
			if clock, fine := all(k, clockLayouts); fine && (g.cols[k].numbers == 0 || among(wordsClock, folded(k))) {
				stamped(l+" "+clock.text, d, k)
				return nil
			}
		}
	}
	// A clock alone.
	for k := range g.cols {
		clock, ok := all(k, clockLayouts)
		if !ok || g.cols[k].numbers > 0 && !(among(wordsClock, folded(k)) && len(g.cols[k].texts[0]) >= 6) {
			continue
		}
		// mm:ss counting up from zero is elapsed time.
		if clock.text == "hh:mm" || clock.text == "hh:mm:ss" {
			if x, fine := readElapsed([]byte(g.cols[k].texts[0]), g.decimal); fine && x <= 60 && (among(wordsElapsed, folded(k)) && folded(k) != "time" || clock.text == "hh:mm") {
				g.cols[k].time = true
				form := "mm:ss"
				if clock.text == "hh:mm:ss" {
					form = "hh:mm:ss"
				}
				g.timeTOML = fmt.Sprintf("kind = \"elapsed\"\ncolumn = %s\nunit = %q\n", quoteTOML(ref(k)), form)
				g.base()
				return nil
			}
		}
		g.cols[k].time = true
		zone := ""
		if local(k) {
			zone = g.zone()
		}
		g.timeTOML = fmt.Sprintf("kind = \"time-of-day\"\ncolumn = %s\nlayout = %s\n%s", quoteTOML(ref(k)), quoteTOML(clock.text), zone)
		g.date()
		return nil
	}
	// mm:ss
	for k := range g.cols {
		if g.cols[k].numbers > 0 {
			continue
		}
		hits := 0
		for _, s := range g.cols[k].texts {
			if _, ok := readElapsed([]byte(s), g.decimal); ok {
				hits++
			}
		}
		if hits*10 >= len(g.cols[k].texts)*9 && hits > 0 {
			g.cols[k].time = true
			g.timeTOML = fmt.Sprintf("kind = \"elapsed\"\ncolumn = %s\nunit = \"mm:ss\"\n", quoteTOML(ref(k)))
			g.base()
			return nil
		}
	}
	// Elapsed numbers: by its head, else the first that rises steadily.
	pick := -1
	for k := range g.cols {
		c := &g.cols[k]
		if c.numbers*10 < len(c.texts)*9 || c.numbers == 0 {
			continue
		}
		if f := folded(k); among(wordsElapsed, f) || among(wordsElapsed, strings.TrimSuffix(f, "_utc")) {
			if f == "t" && !rising(c.values) {
				continue
			}
			pick = k
			break
		}
	}
	if pick < 0 {
		for k := range g.cols {
			c := &g.cols[k]
			if v, _, _ := headOf(c.head); v != sounding.NoVariable || c.numbers < len(c.texts) {
				continue
			}
			if rising(c.values) {
				pick = k
				g.doubt("time", "%s rises from row to row: it is taken for elapsed seconds", c.label())
				break
			}
		}
	}
	if pick < 0 {
		return errors.New("no column looks like a time: write the recipe by hand (docs/recipes.md), or look whether the source has a time at all")
	}
	c := &g.cols[pick]
	c.time = true
	unit := c.unitRow
	if _, _, u := headOf(c.head); u != "" {
		unit = u
	}
	if _, err := units.Lookup(unit, units.Time); err != nil || unit == "" {
		unit = "s"
		switch f := folded(pick); {
		case strings.HasSuffix(f, "min") || strings.HasSuffix(f, "minutes"):
			unit = "min"
		case strings.Contains(f, "_ms") || f == "ms":
			unit = "ms"
		default:
			if !strings.Contains(f, "s") || f == "elapsed" {
				g.doubt("time", "%s says no unit: seconds are taken", c.label())
			}
		}
	}
	g.timeTOML = fmt.Sprintf("kind = \"elapsed\"\ncolumn = %s\nunit = %s\n", quoteTOML(ref(pick)), quoteTOML(unit))
	if len(c.values) > 0 && c.values[0] > 3e8 && unit == "s" {
		g.timeTOML += "base = \"1970-01-01T00:00:00Z\"\n"
		g.doubt("time", "%s holds seconds since 1970", c.label())
		return nil
	}
	g.base()
	return nil
}

// rising tells whether numbers never fall and mostly rise by one step.
func rising(x []float64) bool {
	if len(x) < 2 {
		return false
	}
	steps := map[float64]int{}
	for i := 1; i < len(x); i++ {
		d := x[i] - x[i-1]
		if !(d >= 0) {
			return false
		}
		steps[math.Round(d*1000)/1000]++
	}
	most := 0
	for s, n := range steps {
		if s > 0 {
			most = max(most, n)
		}
	}
	return most*2 >= len(x)-1
}

// dayFirst finds the order of day and month where the year stands last.
func (g *guesser) dayFirst(k int, withClock bool) (string, bool) {
	c := &g.cols[k]
	if len(c.texts) == 0 || c.numbers > 0 {
		return "", false
	}
	first, second := 0, 0
	sep, year := "", ""
	clock := ""
	for _, s := range c.texts {
		if !dayFirst().MatchString(s) {
			return "", false
		}
		date, rest, _ := strings.Cut(strings.Replace(s, "T", " ", 1), " ")
		if (rest != "") != withClock {
			return "", false
		}
		i := strings.IndexAny(date, "/.-")
		sep = date[i : i+1]
		parts := strings.Split(date, sep)
		if len(parts) != 3 {
			return "", false
		}
		a, _ := strconv.Atoi(parts[0])
		b, _ := strconv.Atoi(parts[1])
		first, second = max(first, a), max(second, b)
		year = "YYYY"
		if len(parts[2]) == 2 {
			year = "YY"
		}
		clock = ""
		if rest != "" {
			clock = " hh:mm:ss"
			if strings.Count(rest, ":") == 1 {
				clock = " hh:mm"
			}
			if strings.Contains(s, "T") {
				clock = "T" + clock[1:]
			}
		}
	}
	switch {
	case first > 12 && second <= 12 || sep == ".":
		return "DD" + sep + "MM" + sep + year + clock, true
	case second > 12 && first <= 12:
		return "MM" + sep + "DD" + sep + year + clock, true
	}
	g.doubt("time", "the date %q can be read in two ways: the day is taken to stand first; else change the layout to MM%sDD%s%s", c.texts[0], sep, sep, year)
	return "DD" + sep + "MM" + sep + year + clock, true
}

// zone finds the zone of a local clock in the preamble.
func (g *guesser) zone() string {
	re := regexp.MustCompile(`(?i)(UTC|GMT)\s*([+-]\d{1,2}(:?\d{2})?)`)
	for _, l := range g.lines[:g.first] {
		if m := re.FindString(l); m != "" {
			if _, err := loadZone(strings.ReplaceAll(m, " ", "")); err == nil {
				g.captures = append(g.captures, "[[capture]]\npattern = '(?P<value>(?:UTC|GMT)\\s*[+-]\\d{1,2}(?::?\\d{2})?)'\nname = \"zone\"\nfield = \"time.zone\"\n")
				return ""
			}
		}
	}
	iana := regexp.MustCompile(`\b(Africa|America|Antarctica|Asia|Atlantic|Australia|Europe|Indian|Pacific)/[A-Z][A-Za-z_/]+`)
	for _, l := range g.lines[:g.first] {
		if m := iana.FindString(l); m != "" {
			if _, err := loadZone(m); err == nil {
				return fmt.Sprintf("zone = %q\n", m)
			}
		}
	}
	g.doubt("time", "the clock is local and nothing says of which zone: UTC stands in the recipe and is surely wrong; set zone to an IANA name such as Europe/Zurich")
	return "zone = \"UTC\"\n"
}

var (
	dateInLine  = lazyPattern(`\d{4}-\d{2}-\d{2}|\b\d{8}\b|\d{1,2}\.\d{1,2}\.\d{4}|\d{4}/\d{2}/\d{2}`)
	stampInLine = lazyPattern(`\d{4}[-/]\d{2}[-/]\d{2}[ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?\s*(Z|[+-]\d{2}:?\d{2})?|\b\d{8}[ T]\d{2}:?\d{2}:?\d{2}Z?|\d{1,2}\.\d{1,2}\.\d{4} \d{1,2}:\d{2}(:\d{2})?`)
	dateInName  = lazyPattern(`(\d{4})[-_]?(\d{2})[-_]?(\d{2})`)
	startWords  = lazyPattern(`(?i)release|launch|start|begin|time|date|datum|zeit`)
)

// keyOf returns the text of a preamble line before a value, for a capture.
func keyOf(line string, at int) string {
	return strings.TrimRight(line[:at], " \t")
}

// date finds the day of a time of day.
func (g *guesser) date() {
	for _, l := range g.lines[:g.first] {
		m := dateInLine().FindStringIndex(l)
		if m == nil || !startWords().MatchString(l) {
			continue
		}
		text := l[m[0]:m[1]]
		if _, ok := readDate(text, ""); !ok {
			continue
		}
		g.captures = append(g.captures, fmt.Sprintf("[[capture]]\npattern = %s\nname = \"date\"\nfield = \"time.date\"\n", quotePattern("^"+regexp.QuoteMeta(keyOf(l, m[0]))+`\s*(?P<value>`+generalise(text)+")")))
		return
	}
	if m := dateInName().FindStringSubmatch(g.name); m != nil {
		if _, ok := readDate(m[1]+m[2]+m[3], ""); ok {
			g.timeTOML += "date_from_name = '(\\d{4})[-_]?(\\d{2})[-_]?(\\d{2})'\n"
			g.doubt("time", "the day is taken from the source's name (%s): it is the day of the first row", m[0])
			return
		}
	}
	g.doubt("time", "times of day have no date in the source: it comes from the launch record's declared release or an option")
}

// base finds the instant of elapsed time zero.
func (g *guesser) base() {
	best := -1
	var at []int
	for i, l := range g.lines[:g.first] {
		m := stampInLine().FindStringIndex(l)
		if m == nil || !startWords().MatchString(l[:m[0]]) {
			continue
		}
		if _, err := readInstant(strings.TrimSpace(l[m[0]:m[1]]), "", "", "", ""); err != nil {
			continue
		}
		low := strings.ToLower(l)
		if best < 0 || strings.Contains(low, "release") || strings.Contains(low, "launch") || strings.Contains(low, "start") {
			best, at = i, m
			if !strings.Contains(low, "nominal") && best >= 0 && (strings.Contains(low, "release") || strings.Contains(low, "launch") || strings.Contains(low, "start")) {
				break
			}
		}
	}
	if best < 0 {
		g.doubt("time", "elapsed time has no start in the source: it comes from the launch record's declared release or an option")
		return
	}
	l := g.lines[best]
	text := strings.TrimSpace(l[at[0]:at[1]])
	g.captures = append(g.captures, fmt.Sprintf("[[capture]]\npattern = %s\nname = \"start\"\nfield = \"time.base\"\n", quotePattern("^"+regexp.QuoteMeta(keyOf(l, at[0]))+`\s*(?P<value>`+generalise(text)+")")))
	g.doubt("time", "elapsed time is counted from %q of line %d", text, best+1)
	if !strings.HasSuffix(text, "Z") && !regexp.MustCompile(`[+-]\d{2}:?\d{2}$`).MatchString(text) && !strings.Contains(strings.ToUpper(l), "UTC") {
		g.doubt("time", "nothing says which zone that start is in: UTC is taken; else give the capture a zone")
	}
}

// generalise makes a pattern of a sample: figures stand for any figure.
func generalise(text string) string {
	out := ""
	for _, c := range text {
		switch {
		case c >= '0' && c <= '9':
			out += `\d`
		case c == ' ':
			out += `\s+`
		default:
			out += regexp.QuoteMeta(string(c))
		}
	}
	return out
}

// quotePattern writes a pattern as a TOML string.
func quotePattern(p string) string {
	if !strings.ContainsAny(p, "'\n\r\t") {
		return "'" + p + "'"
	}
	return tomlText(p)
}

func quoteTOML(s string) string { return tomlText(s) }

// columns ties columns to variables: by head, then by unit and range of values.
func (g *guesser) columns() {
	used := map[sounding.Variable]bool{}
	for pass := range 2 {
		for k := range g.cols {
			c := &g.cols[k]
			if c.time || c.variable != sounding.NoVariable || c.numbers == 0 && !g.positions(k) {
				continue
			}
			v, name, unit := headOf(c.head)
			if unit == "" {
				unit = c.unitRow
			}
			c.name, c.unit = name, unit
			if pass == 0 {
				c.variable = g.settle(c, v, unit)
			} else if c.head == "" || v == sounding.NoVariable && knownUnit(unit) && unit != "1" && unit != "s" && unit != "-" {
				c.variable = g.byRange(k, unit, used)
			}
			if used[c.variable] {
				g.doubt(c.label(), "looks like %v as well, which another column is already: it is kept as an extra", c.variable)
				c.variable = sounding.NoVariable
			}
			if c.variable != sounding.NoVariable {
				used[c.variable] = true
			}
		}
	}
	for k := range g.cols {
		c := &g.cols[k]
		if c.variable == sounding.NoVariable || c.time {
			continue
		}
		g.clear(c)
		c.outUnit = g.unitOf(k)
		if c.variable == sounding.Latitude || c.variable == sounding.Longitude {
			g.hemispheres(k)
		}
	}
}

// settle turns what a head means into what its column can be: u and v may be humidity
// or wind, t may be temperature.
func (g *guesser) settle(c *guessColumn, v sounding.Variable, unit string) sounding.Variable {
	if v == sounding.NoVariable {
		return v
	}
	dimension := v.Info().Dimension
	if unit != "" && dimension != units.None {
		if _, err := units.Lookup(unit, dimension); err != nil {
			// "u" in m/s is wind, "v" in V is the battery.
			folded := foldHead(c.name)
			switch _, speed := units.Lookup(unit, units.Speed); {
			case speed == nil && (folded == "u" || folded == "uu"):
				return sounding.WindU
			case speed == nil && folded == "v":
				return sounding.WindV
			case knownUnit(unit):
				g.doubt(c.label(), "its name means %v but its unit is %q: it is kept as an extra", v, unit)
				return sounding.NoVariable
			case folded == "v" || folded == "w":
				return sounding.NoVariable
			}
		}
	}
	if foldHead(c.name) == "u" && unit == "" {
		for _, x := range c.values {
			if x < 0 {
				g.doubt(c.label(), "\"u\" with negative values is taken for the wind towards east, in m/s")
				return sounding.WindU
			}
		}
		g.doubt(c.label(), "\"u\" is taken for relative humidity, in %%: it may be the wind towards east")
	}
	return v
}

// positions tells whether a column of texts holds positions.
func (g *guesser) positions(k int) bool {
	v, _, _ := headOf(g.cols[k].head)
	if v != sounding.Latitude && v != sounding.Longitude {
		return false
	}
	for _, s := range g.cols[k].texts {
		if _, err := units.ParsePosition(s, v.Info().Dimension); err == nil {
			return true
		}
	}
	return false
}

// spread returns the range of a column and how it goes.
func spread(x []float64) (low, high float64, falls, rises bool, n int) {
	low, high = math.Inf(1), math.Inf(-1)
	down, up := 0, 0
	last := math.NaN()
	for _, v := range x {
		if v != v {
			continue
		}
		n++
		low, high = math.Min(low, v), math.Max(high, v)
		switch {
		case v < last:
			down++
		case v > last:
			up++
		}
		last = v
	}
	return low, high, down > 3*up && down > 0, up > 3*down && up > 0, n
}

// byRange guesses a variable from its unit and values; pressure and height by the way
// they go as well.
func (g *guesser) byRange(k int, unit string, used map[sounding.Variable]bool) sounding.Variable {
	c := &g.cols[k]
	low, high, falls, rises, n := spread(c.values)
	if n < 3 {
		return sounding.NoVariable
	}
	is := func(d string) bool {
		_, err := units.Lookup(unit, d)
		return unit != "" && err == nil
	}
	guess := func(v sounding.Variable, why string) sounding.Variable {
		if used[v] {
			return sounding.NoVariable
		}
		g.doubt(c.label(), "%s: it is taken for %v", why, v)
		return v
	}
	switch {
	case is(units.Pressure):
		return guess(sounding.Pressure, "its unit is one of pressure")
	case is(units.Temperature):
		return guess(sounding.Temperature, "its unit is one of temperature")
	case is(units.Humidity) && unit != "1":
		return guess(sounding.Humidity, "its unit is one of humidity")
	case unit != "":
		return sounding.NoVariable
	case falls && low > 1 && high > 300 && high < 1100:
		return guess(sounding.Pressure, "it has no name, falls, and lies between 1 and 1100")
	case rises && (high > 1500 || used[sounding.Pressure] && high-low > 100) && low > -450 && high < 50000:
		return guess(sounding.HeightMSL, "it has no name and rises by hundreds")
	case falls && low > -100 && high < 50 && high-low > 2:
		return guess(sounding.Temperature, "it has no name, falls, and lies between -100 and 50")
	case low >= 0 && high <= 105 && high > 1 && high-low > 1 && used[sounding.Temperature] && !used[sounding.Humidity]:
		return guess(sounding.Humidity, "it has no name and lies between 0 and 105")
	}
	return sounding.NoVariable
}

// unitOf finds the unit of a column that has become a variable; "" means that the
// source says it itself and well.
func (g *guesser) unitOf(k int) string {
	c := &g.cols[k]
	dimension := c.variable.Info().Dimension
	if dimension == units.None {
		return ""
	}
	low, high, _, _, n := spread(c.values)
	if c.unit != "" {
		if _, err := units.Lookup(c.unit, dimension); err == nil {
			if (dimension == units.Latitude || dimension == units.Longitude) && n > 0 && math.Max(math.Abs(low), math.Abs(high)) > 360 {
				g.doubt(c.label(), "its numbers go beyond 360: degrees and minutes run together are taken")
				return "deg-min"
			}
			return c.unit
		}
		g.doubt(c.label(), "its unit %q is not known for %s", c.unit, dimension)
	}
	take := func(unit, why string) string {
		g.doubt(c.label(), "says no unit: %s is taken%s", unit, why)
		return unit
	}
	switch dimension {
	case units.Pressure:
		switch {
		case n > 0 && high > 2000:
			return take("Pa", ", by its values")
		case n > 0 && high < 35:
			return take("inHg", ", by its values")
		case n > 0 && high < 120:
			return take("kPa", ", by its values")
		}
		return take("hPa", "")
	case units.Temperature:
		if n > 0 && low > 150 {
			return take("K", ", by its values")
		}
		return take("°C", "")
	case units.Humidity:
		if n > 0 && high <= 1.1 && high > 0 {
			return take("fraction", ", by its values")
		}
		return take("%", "")
	case units.Length:
		return take("m", "; feet look alike")
	case units.Speed:
		return take("m/s", "; knots look alike")
	case units.Angle:
		return take("deg", "")
	case units.Latitude, units.Longitude:
		if n > 0 && math.Max(math.Abs(low), math.Abs(high)) > 360 {
			return take("deg-min", ", by its values")
		}
		return "deg"
	}
	return units.Inner(dimension).Name
}

// hemispheres finds a column of N, S, E or W beside a position.
func (g *guesser) hemispheres(k int) {
	want := "NS"
	if g.cols[k].variable == sounding.Longitude {
		want = "EW"
	}
	for _, h := range []int{k + 1, k - 1} {
		if h < 0 || h >= len(g.cols) || g.cols[h].present == 0 {
			continue
		}
		all := true
		for _, s := range g.cols[h].texts {
			all = all && (s == "" || len(s) == 1 && strings.Contains(want, strings.ToUpper(s)))
		}
		if all {
			g.cols[k].hemisphere = h
			return
		}
	}
}

// preambleItems are words of preamble lines and the launch record items they mean.
var preambleItems = []struct{ words, field string }{
	{"station|site|location|station name|site name", "site.name"},
	{"latitude|lat|station latitude|site latitude|breite", "site.latitude_deg"},
	{"longitude|lon|long|station longitude|site longitude|laenge", "site.longitude_deg"},
	{"height|altitude|elevation|station height|site height|station altitude|launch height|hoehe", "site.height_m_msl"},
	{"serial|serial number|serial no|radiosonde|sonde|sonde serial|radiosonde serial|sonde id", "radiosonde.serial"},
	{"frequency|tx frequency", "radiosonde.frequency_mhz"},
	{"operator|observer", "operator"},
	{"release|release time|released|launch|launch time|launched|start of ascent", "release.declared_utc"},
	{"surface pressure|ground pressure", "surface.pressure_hpa"},
	{"surface temperature|ground temperature", "surface.temperature_k"},
	{"surface humidity|ground humidity", "surface.humidity_pct"},
	{"instrument sheet|sheet", "radiosonde.sheet"},
}

var preambleLine = lazyPattern(`^(\s*[#!%"/]*\s*)([\pL][\pL \t_./-]{0,30}?)\s*(?:\[([^\]]*)\]|\(([^)]*)\))?\s*([:=;,\t])\s*(.+?)\s*$`)

// preamble makes captures of the preamble lines it understands.
func (g *guesser) preamble() {
	done := map[string]bool{}
	end := g.first
	if g.headLine >= 0 {
		end = g.headLine
	}
	for i, l := range g.lines[:end] {
		m := preambleLine().FindStringSubmatch(l)
		if m == nil {
			continue
		}
		unit := m[3] + m[4]
		key := strings.Join(strings.FieldsFunc(strings.ToLower(m[2]), func(r rune) bool { return r == ' ' || r == '_' || r == '\t' || r == '.' || r == '-' }), " ")
		value := strings.Trim(m[6], `" ;,`)
		for _, p := range preambleItems {
			if done[p.field] || !contains(strings.Split(p.words, "|"), key) {
				continue
			}
			f, ok := sounding.FieldByPath(p.field)
			if !ok {
				continue
			}
			extra := ""
			switch {
			case f.Number != nil:
				u := unit
				if u == "" || (f.Dimension == units.Latitude || f.Dimension == units.Longitude) && !knownUnit(u) {
					u = "deg"
					switch f.Dimension {
					case units.Latitude, units.Longitude:
					case units.Temperature:
						u = "°C"
					default:
						u = units.Inner(f.Dimension).Name
					}
				}
				x, err := units.Parse(value, f.Dimension, u)
				if err != nil || math.IsNaN(x) {
					continue
				}
				extra = fmt.Sprintf("unit = %s\n", quoteTOML(u))
			case f.Instant != nil:
				if _, err := readInstant(value, "", "", "", ""); err != nil {
					continue
				}
			}
			done[p.field] = true
			pattern := "^" + regexp.QuoteMeta(strings.TrimRight(l[:strings.Index(l, m[5])+len(m[5])], " \t")) + `\s*(?P<value>.+?)[\s;,"]*$`
			if j := strings.LastIndex(l, m[6]); j > 0 {
				pattern = "^" + regexp.QuoteMeta(strings.TrimRight(l[:j], " \t")) + `\s*(?P<value>.+?)[\s;,"]*$`
			}
			g.captures = append(g.captures, fmt.Sprintf("[[capture]]\npattern = %s\nname = %s\nfield = %q\n%s", quotePattern(pattern), quoteTOML(strings.TrimSpace(m[2])), p.field, extra))
			g.doubt(fmt.Sprintf("line %d", i+1), "%q is taken for the launch record's %s", shown(strings.TrimSpace(m[2])), f.Label)
			break
		}
	}
}

// toml writes the recipe.
func (g *guesser) toml() string {
	var b strings.Builder
	b.WriteString("# Guessed by leadline from the head of a source. Look at each line below, and at these doubts:\n#\n")
	if len(g.doubts) == 0 {
		b.WriteString("#   none: the source says everything itself\n")
	}
	for _, d := range g.doubts {
		fmt.Fprintf(&b, "#   %s\n", oneLine(d.String()))
	}
	base := g.name
	if i := strings.LastIndexAny(base, "/\\"); i >= 0 {
		base = base[i+1:]
	}
	fmt.Fprintf(&b, "\nname = %s\nformat = \"text\"\n\n[text]\n", quoteTOML("guessed from "+oneLine(shown(base))))
	fmt.Fprintf(&b, "delimiter = %s\n", map[byte]string{byWhitespace: `"whitespace"`, '\t': `"tab"`, ';': `";"`, ',': `","`, '|': `"|"`}[g.delimiter])
	fmt.Fprintf(&b, "decimal = \"%c\"\n", g.decimal)
	fmt.Fprintf(&b, "encoding = %q\n", g.encoding)
	if len(g.comments) > 0 {
		var list []string
		for _, c := range g.comments {
			list = append(list, quoteTOML(c))
		}
		fmt.Fprintf(&b, "comment = [%s]\n", strings.Join(list, ", "))
	}
	if len(g.missing) > 0 {
		var list []string
		for m := range g.missing {
			list = append(list, quoteTOML(m))
		}
		sort.Strings(list)
		fmt.Fprintf(&b, "missing = [%s]  # besides blank, nan, -, /, * and the like\n", strings.Join(list, ", "))
	}
	b.WriteString("\n[preamble]\n")
	switch {
	case g.headLine >= 0:
		fmt.Fprintf(&b, "header_row = %s  # line %d\n", quotePattern("^"+headPattern(g.lines[g.headLine])), g.headLine+1)
		next := g.headLine + 1
		if g.unitLine >= 0 {
			for next < g.unitLine {
				next++ // nothing stands between in what was seen
			}
			b.WriteString("units = true\n")
			next = g.unitLine + 1
		}
		if skip := g.skipped(next); skip > 0 {
			fmt.Fprintf(&b, "skip_after = %d\n", skip)
		}
	default:
		fmt.Fprintf(&b, "lines = %d\n", g.first)
		if g.first > 0 {
			b.WriteString("# no row of column names was seen: columns go by their number\n")
		}
	}
	b.WriteString("\n[time]\n" + g.timeTOML)
	for _, c := range g.captures {
		b.WriteString("\n" + c)
	}
	for k := range g.cols {
		c := &g.cols[k]
		if c.time || c.variable == sounding.NoVariable {
			continue
		}
		b.WriteString("\n[[column]]\n")
		if name := c.headName(g); name != "" && g.headLine >= 0 {
			fmt.Fprintf(&b, "name = %s\n", quoteTOML(name))
		} else {
			fmt.Fprintf(&b, "number = %d\n", k+1)
		}
		fmt.Fprintf(&b, "variable = %q\n", c.variable.String())
		if c.outUnit != "" {
			fmt.Fprintf(&b, "unit = %s\n", quoteTOML(c.outUnit))
		}
		if c.hemisphere >= 0 {
			h := strconv.Itoa(c.hemisphere + 1)
			fmt.Fprintf(&b, "hemisphere = %s\n", quoteTOML(h))
		}
		b.WriteString("optional = true\n")
	}
	b.WriteString("\n# Columns that are not named above are kept as extras:")
	any := false
	for k := range g.cols {
		c := &g.cols[k]
		if !c.time && c.variable == sounding.NoVariable && c.head != "" {
			fmt.Fprintf(&b, " %s", oneLine(shown(c.head)))
			any = true
		}
	}
	if !any {
		b.WriteString(" none")
	}
	b.WriteString("\n")
	return b.String()
}

// skipped is the number of lines between header and data that hold something but are
// neither (a ruler of dashes).
func (g *guesser) skipped(next int) int {
	for i := next; i < g.first; i++ {
		if strings.TrimSpace(g.lines[i]) != "" {
			return g.first - next
		}
	}
	return 0
}

// headName is the head of a column where it stands once, "" else.
func (c *guessColumn) headName(g *guesser) string {
	n := 0
	for i := range g.cols {
		if strings.EqualFold(g.cols[i].head, c.head) {
			n++
		}
	}
	if n != 1 {
		return ""
	}
	return c.head
}

// headPattern is a pattern for the header row: its first 60 characters with any
// blanks between words.
func headPattern(line string) string {
	r := []rune(line)
	cut := len(r) > 60
	if cut {
		r = r[:60]
	}
	var out strings.Builder
	space := false
	for _, c := range r {
		if c == ' ' {
			if !space {
				out.WriteString(" +")
			}
			space = true
			continue
		}
		space = false
		out.WriteString(regexp.QuoteMeta(string(c)))
	}
	p := out.String()
	if !cut {
		p = strings.TrimSuffix(p, " +")
	}
	return p
}

// oneLine keeps a text on its comment line.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7f || r == 0x85 || r == 0x2028 || r == 0x2029 {
			return ' '
		}
		return r
	}, s)
}
