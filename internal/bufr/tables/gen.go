//go:build ignore

// gen writes wmo.bin, the element, sequence and code tables of FM 94 that package
// bufr embeds. It reads them from the definitions that the Debian package
// libeccodes-data installs (the tables of the WMO open standard, all versions):
//
//	go run gen.go [-definitions folder] [-out wmo.bin]
//
// So that the result is the same everywhere it works from version 2.28.0 of that package; where another version or
// none is installed and no folder is named, it says so and leaves the file as it is.
//
// What it leaves out on purpose: names of makers, products, satellites, agencies and
// centres. Such code tables keep their figures with a generic kind (withheld below),
// and tables outside the surface and upper-air trade are not carried at all (carried).
//
// Layout of wmo.bin, little endian; the reader is ../tables.go:
//
//	magic "LLBUFR01", then 9 pairs (offset uint32, count uint32):
//	versions   uint8            master table versions, rising
//	spaces     6 bytes          local table sets: centre u16, sub-centre u16, local version u8, 0
//	elements   16 bytes         space u8, from u8, to u8, kind u8, fxy u16, width u16, reference i32, scale i8, unit u8, name u16
//	sequences  12 bytes         space u8, from u8, to u8, 0, fxy u16, count u16, first member u32
//	members    uint16           descriptors
//	codes      16 bytes         space u8, from u8, to u8, 0, fxy u16, count u16, first entry u32, generic text u16, 0 u16
//	entries    6 bytes          figure u32, text u16
//	units      uint16           string of each unit
//	strings    uint32 offsets   count+1 of them, relative to the text behind them
//
// Records are sorted by space, fxy, from. Space 0 is the WMO's own.
package main

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// release is the version of libeccodes-data whose tables are packed.
const release = "2.28.0"

// localSets are the local tables carried because open archives use them: centre,
// sub-centre, local version.
var localSets = []space{{98, 0, 1}}

type space struct {
	centre, subCentre uint16
	version           uint8
}

// carriedClasses are the classes X of 0 XX YYY whose code tables are carried whole.
var carriedClasses = []int{4, 5, 6, 7, 8, 10, 11, 12, 13, 20, 31, 35}

// carried are single code tables of other classes.
var carried = []int{
	1003, 2001, 2002, 2003, 2012, 2013, 2014, 2015, 2016, 2017, 2039, 2083, 2084, 2095, 2096, 2103,
	2115, 2169, 2175, 2176, 2177, 2178, 2191, 33002, 33003, 33005, 33006, 33015, 33020, 33024, 33025, 33026, 33027, 33035, 33037, 33041,
}

// withheld are the code tables that name makers, products, satellites, agencies or
// centres: the kind that stands for each figure, and the figures whose meaning is generic.
var withheld = map[int]struct {
	kind string
	keep map[int]string
}{
	1007: {"satellite (name withheld)", nil},
	1031: {"originating centre (see common code table C-1)", nil},
	1032: {"generating application (defined by the centre)", nil},
	1033: {"originating centre (see common code table C-1)", nil},
	1034: {"originating sub-centre (see common code table C-12)", nil},
	1035: {"originating centre (see common code table C-11)", nil},
	1036: {"agency (name withheld)", nil},
	1101: {"state (see common code table)", nil},
	2011: {"assigned radiosonde or sounding system (name withheld)", map[int]string{
		2:   "no radiosonde: passive target, for example a reflector",
		3:   "no radiosonde: active target, for example a transponder",
		4:   "no radiosonde: passive temperature and humidity profiler",
		5:   "no radiosonde: active temperature and humidity profiler",
		6:   "no radiosonde: radio-acoustic sounder",
		8:   "no radiosonde: reserved",
		9:   "no radiosonde: system unknown or not specified",
		90:  "radiosonde not specified or unknown",
		255: "missing value"}},
	2019: {"satellite instrument (name withheld)", nil},
	2020: {"satellite class (name withheld)", nil},
	2066: {"ground receiving system (name withheld)", map[int]string{62: "other", 63: "missing value"}},
	2067: {"radiosonde operating frequency", nil},
	2080: {"balloon maker (name withheld)", map[int]string{62: "other", 63: "missing value"}},
	2081: {"balloon type (name withheld)", map[int]string{30: "other", 31: "missing value"}},
	2097: {"humidity sensor (name withheld)", map[int]string{
		0: "carbon hygristor (name withheld)", 1: "hygristor (name withheld)",
		2: "thin-film capacitive sensor, older generation (name withheld)",
		3: "thin-film capacitive sensor, older generation (name withheld)",
		4: "capacitance sensor", 5: "capacitive sensor pair (name withheld)",
		6: "carbon hygristor (name withheld)",
		7: "two alternately heated thin-film capacitive sensors",
		8: "thin-film capacitive sensor with active de-icing",
		9: "carbon hygristor", 10: "psychrometer", 11: "capacitive (polymer)",
		12: "capacitive (ceramic, including metal oxide)", 13: "resistive (generic)",
		14: "resistive (salt polymer)", 15: "resistive (conductive polymer)", 16: "thermal conductivity",
		17: "gravimetric", 18: "paper-metal coil", 19: "ordinary human hair", 20: "rolled hair (torsion)",
		21: "goldbeater's skin", 22: "chilled mirror hygrometer", 23: "dew cell", 24: "optical absorption sensor",
		31: "missing value"}},
	2179:  {"algorithm (name withheld)", nil},
	22067: {"expendable probe (name withheld)", nil},
	22068: {"recorder (name withheld)", nil},
}

// newer are figures of master table versions 40 to 45 that the installed definitions do not have yet.
// Source: the WMO's table repository, tag v45 of 17 November 2025.
var newer = map[int]map[uint32]string{
	2096: {8: "Platinum resistance thermometer", 9: "Thermistor", 10: "Thermocouple"},
	8041: {14: "Derived from polarization"},
}

type element struct {
	name, unit              string
	kind                    uint8 // as bufr.Kind
	scale, width, reference int
}

// set is one version of one table set.
type set struct {
	elements  map[int]element
	sequences map[int][]uint16
	codes     map[int][]entry
}

type entry struct {
	figure uint32
	text   string
}

func main() {
	log.SetFlags(0)
	definitions := flag.String("definitions", "", "definitions folder of ecCodes (default: what codes_info -d prints)")
	out := flag.String("out", "wmo.bin", "file to write")
	flag.Parse()
	if *definitions == "" {
		v, err := exec.Command("codes_info", "-v").Output()
		if err != nil || strings.TrimSpace(string(v)) != release {
			fmt.Printf("%s left as it is: libeccodes-tools %s is not installed (found %q); name a folder with -definitions to use another\n", *out, release, strings.TrimSpace(string(v)))
			return
		}
		b, err := exec.Command("codes_info", "-d").Output()
		if err != nil {
			log.Fatal("codes_info -d: ", err)
		}
		*definitions = strings.TrimSpace(string(b))
	}
	root := filepath.Join(*definitions, "bufr/tables/0")
	names, err := filepath.Glob(filepath.Join(root, "wmo/*/element.table"))
	if err != nil || len(names) == 0 {
		log.Fatal("no wmo/*/element.table below ", root)
	}
	var versions []int
	for _, n := range names {
		v, err := strconv.Atoi(filepath.Base(filepath.Dir(n)))
		if err == nil {
			versions = append(versions, v)
		}
	}
	sort.Ints(versions)

	w := &writer{index: map[string]uint16{"": 0}, strings: []string{""}}
	master := make([]set, len(versions))
	for i, v := range versions {
		master[i] = read(filepath.Join(root, "wmo", strconv.Itoa(v)), true)
	}
	w.add(0, versions, master)
	for i, l := range localSets {
		dir := filepath.Join(root, "local", fmt.Sprintf("%d/%d/%d", l.version, l.centre, l.subCentre))
		w.add(uint8(i+1), []int{0}, []set{read(dir, false)})
	}
	b := w.bytes(versions)
	if err := os.WriteFile(*out, b, 0o644); err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s: %d bytes, versions %d to %d, %d element records, %d sequence records, %d code tables with %d entries, %d strings\n",
		*out, len(b), versions[0], versions[len(versions)-1], len(w.elements), len(w.sequences), len(w.codes), len(w.entries), len(w.strings))
}

func read(dir string, codes bool) set {
	s := set{elements: map[int]element{}, sequences: map[int][]uint16{}, codes: map[int][]entry{}}
	for i, line := range lines(filepath.Join(dir, "element.table")) {
		if strings.HasPrefix(line, "#") || line == "" {
			continue
		}
		f := strings.Split(line, "|")
		if len(f) < 8 {
			log.Fatalf("%s line %d: %d fields", dir, i+1, len(f))
		}
		unit := f[4]
		e := element{name: sentence(f[3]), unit: unit, scale: number(f[5]), reference: number(f[6]), width: number(f[7])}
		switch u := strings.ToUpper(unit); {
		case strings.Contains(u, "CODE TABLE"):
			e.kind, e.unit = 1, strings.Replace(unit, "CODE TABLE", "code table", 1)
			e.unit = strings.ToUpper(e.unit[:1]) + e.unit[1:]
		case strings.Contains(u, "FLAG TABLE"):
			e.kind, e.unit = 2, "Flag table"
		case strings.Contains(u, "CCITT"):
			e.kind = 3
		}
		s.elements[fxy(f[0])] = e
	}
	member := regexp.MustCompile(`\d{6}`)
	text := strings.Join(lines(filepath.Join(dir, "sequence.def")), " ")
	for _, def := range strings.Split(text, "]") {
		head, list, ok := strings.Cut(def, "[")
		if !ok {
			continue
		}
		var m []uint16
		for _, d := range member.FindAllString(list, -1) {
			m = append(m, uint16(fxy(d)))
		}
		s.sequences[fxy(member.FindString(head))] = m
	}
	if !codes {
		return s
	}
	for id := range s.elements {
		x, y := id>>8&63, id&255
		t := x*1000 + y
		if _, ok := withheld[t]; ok || (!slices.Contains(carriedClasses, x) && !slices.Contains(carried, t)) {
			continue
		}
		name := filepath.Join(dir, "codetables", strconv.Itoa(t)+".table")
		if _, err := os.Stat(name); err != nil {
			continue
		}
		var list []entry
		for _, line := range lines(name) {
			f := strings.SplitN(strings.TrimSpace(line), " ", 3)
			if len(f) < 3 {
				continue
			}
			n, err := strconv.ParseUint(f[0], 10, 32)
			if err != nil {
				log.Fatalf("%s: %v", name, err)
			}
			list = append(list, entry{uint32(n), sentence(strings.TrimSpace(f[2]))})
		}
		slices.SortFunc(list, func(a, b entry) int { return int(a.figure) - int(b.figure) })
		s.codes[id] = list
	}
	return s
}

// words of the tables that stay in capitals when a name is put into sentence case.
var capitals = regexp.MustCompile(`\b(wmo|wigos|temp|pilot|tac|gps|utc|bufr|crex|rass|vlf|cimo|gruan|ir|uv|ccitt|ia5|nmc|rms|qfe|qnh|sst|cape|cin|amdar|acars|asap|id|nil|metar|taf|sigmet|fm|vhf|loran|gnss)\b`)

// sentence puts a name that is all in capitals into sentence case.
func sentence(s string) string {
	if s != strings.ToUpper(s) {
		return s
	}
	s = strings.ToLower(s)
	s = capitals.ReplaceAllStringFunc(s, strings.ToUpper)
	return strings.ToUpper(s[:1]) + s[1:]
}

type elementRecord struct {
	key
	element
}
type sequenceRecord struct {
	key
	first, count int
}
type codeRecord struct {
	key
	first, count int
	generic      uint16
}
type key struct {
	space    uint8
	fxy      int
	from, to int
}

type writer struct {
	spaces    []space
	elements  []elementRecord
	sequences []sequenceRecord
	members   []uint16
	codes     []codeRecord
	entries   []entry
	strings   []string
	index     map[string]uint16
}

// add merges the versions of one set: a record covers the run of versions in which it says the same.
// The name and the unit's spelling are those of the newest version, so that a change of wording makes no record.
func (w *writer) add(sp uint8, versions []int, sets []set) {
	newest := map[int]element{}
	ids := map[int]bool{}
	for _, s := range sets {
		for id, e := range s.elements {
			newest[id] = e
			ids[id] = true
		}
		for id := range s.sequences {
			ids[id] = true
		}
	}
	var sorted []int
	for id := range ids {
		sorted = append(sorted, id)
	}
	sort.Ints(sorted)
	for _, id := range sorted {
		for i := 0; i < len(sets); {
			e, ok := sets[i].elements[id]
			j := i + 1
			for j < len(sets) {
				f, ok2 := sets[j].elements[id]
				if ok2 != ok || f.kind != e.kind || f.scale != e.scale || f.width != e.width || f.reference != e.reference || !strings.EqualFold(f.unit, e.unit) {
					break
				}
				j++
			}
			if ok {
				e.name = newest[id].name
				w.elements = append(w.elements, elementRecord{key{sp, id, versions[i], versions[j-1]}, e})
			}
			i = j
		}
		for i := 0; i < len(sets); {
			m, ok := sets[i].sequences[id]
			j := i + 1
			for j < len(sets) {
				n, ok2 := sets[j].sequences[id]
				if ok2 != ok || !slices.Equal(m, n) {
					break
				}
				j++
			}
			if ok {
				w.sequences = append(w.sequences, sequenceRecord{key{sp, id, versions[i], versions[j-1]}, len(w.members), len(m)})
				w.members = append(w.members, m...)
			}
			i = j
		}
		// A code table: the union of its versions, newest wording first; figures are never reassigned to
		// another meaning without a new table, except the generic cases withheld above.
		union := map[uint32]string{}
		if sp == 0 {
			for f, t := range newer[(id>>8&63)*1000+id&255] {
				union[f] = t
			}
		}
		for _, s := range sets {
			for _, e := range s.codes[id] {
				union[e.figure] = e.text
			}
		}
		var list []entry
		for f, t := range union {
			list = append(list, entry{f, t})
		}
		generic := ""
		if h, ok := withheld[(id>>8&63)*1000+id&255]; ok && sp == 0 {
			generic = h.kind
			for f, t := range h.keep {
				list = append(list, entry{uint32(f), t})
			}
		}
		if len(list) > 0 || generic != "" {
			slices.SortFunc(list, func(a, b entry) int { return int(a.figure) - int(b.figure) })
			w.codes = append(w.codes, codeRecord{key{sp, id, versions[0], versions[len(versions)-1]}, len(w.entries), len(list), w.text(generic)})
			w.entries = append(w.entries, list...)
		}
	}
	if sp > 0 {
		w.spaces = append(w.spaces, localSets[sp-1])
	}
}

func (w *writer) text(s string) uint16 {
	if i, ok := w.index[s]; ok {
		return i
	}
	if len(w.strings) > 65535 {
		log.Fatal("too many strings")
	}
	i := uint16(len(w.strings))
	w.strings = append(w.strings, s)
	w.index[s] = i
	return i
}

func (w *writer) bytes(versions []int) []byte {
	le := binary.LittleEndian
	var units []string
	unit := func(u string) uint8 {
		i := slices.Index(units, u)
		if i < 0 {
			i = len(units)
			units = append(units, u)
		}
		if i > 255 {
			log.Fatal("too many units")
		}
		return uint8(i)
	}
	var sections [9][]byte
	counts := [9]int{len(versions), len(w.spaces), len(w.elements), len(w.sequences), len(w.members), len(w.codes), len(w.entries)}
	for _, v := range versions {
		sections[0] = append(sections[0], uint8(v))
	}
	for _, s := range w.spaces {
		b := le.AppendUint16(nil, s.centre)
		b = le.AppendUint16(b, s.subCentre)
		sections[1] = append(sections[1], append(b, s.version, 0)...)
	}
	for _, e := range w.elements {
		if e.scale < -128 || e.scale > 127 || e.width < 0 || e.width > 65535 {
			log.Fatalf("element %d out of range", e.fxy)
		}
		b := []byte{e.space, uint8(e.from), uint8(e.to), e.kind}
		b = le.AppendUint16(b, uint16(e.fxy))
		b = le.AppendUint16(b, uint16(e.width))
		b = le.AppendUint32(b, uint32(int32(e.reference)))
		b = append(b, uint8(int8(e.scale)), unit(e.unit))
		sections[2] = append(sections[2], le.AppendUint16(b, w.text(e.name))...)
	}
	for _, s := range w.sequences {
		b := []byte{s.space, uint8(s.from), uint8(s.to), 0}
		b = le.AppendUint16(b, uint16(s.fxy))
		b = le.AppendUint16(b, uint16(s.count))
		sections[3] = append(sections[3], le.AppendUint32(b, uint32(s.first))...)
	}
	for _, m := range w.members {
		sections[4] = le.AppendUint16(sections[4], m)
	}
	for _, c := range w.codes {
		b := []byte{c.space, uint8(c.from), uint8(c.to), 0}
		b = le.AppendUint16(b, uint16(c.fxy))
		b = le.AppendUint16(b, uint16(c.count))
		b = le.AppendUint32(b, uint32(c.first))
		b = le.AppendUint16(b, c.generic)
		sections[5] = append(sections[5], le.AppendUint16(b, 0)...)
	}
	for _, e := range w.entries {
		sections[6] = le.AppendUint16(le.AppendUint32(sections[6], e.figure), w.text(e.text))
	}
	for _, u := range units {
		sections[7] = le.AppendUint16(sections[7], w.text(u))
	}
	counts[7] = len(units)
	var text []byte
	for _, s := range w.strings {
		sections[8] = le.AppendUint32(sections[8], uint32(len(text)))
		text = append(text, s...)
	}
	sections[8] = le.AppendUint32(sections[8], uint32(len(text)))
	sections[8] = append(sections[8], text...)
	counts[8] = len(w.strings)

	var buf bytes.Buffer
	buf.WriteString("LLBUFR01")
	offset := 8 + 8*len(sections)
	for i, s := range sections {
		b := le.AppendUint32(nil, uint32(offset))
		buf.Write(le.AppendUint32(b, uint32(counts[i])))
		offset += len(s)
	}
	for _, s := range sections {
		buf.Write(s)
	}
	return buf.Bytes()
}

func lines(name string) []string {
	f, err := os.Open(name)
	if err != nil {
		log.Fatal(err)
	}
	defer f.Close()
	var out []string
	s := bufio.NewScanner(f)
	s.Buffer(nil, 1<<20)
	for s.Scan() {
		out = append(out, strings.TrimRight(s.Text(), "\r"))
	}
	if err := s.Err(); err != nil {
		log.Fatal(name, ": ", err)
	}
	return out
}

func number(s string) int {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil {
		log.Fatal(err)
	}
	return n
}

// fxy packs six decimal figures FXXYYY into the 16 bits of a descriptor.
func fxy(s string) int {
	n := number(strings.TrimLeft(s, "0") + "")
	return n/100000<<14 | n/1000%100<<8 | n%1000
}
