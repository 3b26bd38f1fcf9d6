package bufr

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

// outside is what ecCodes says about one value: the attributes that bufr_dump -ja prints, and the
// double that bufr_filter prints for numericValues.
type outside struct {
	index     int
	code      string
	width     int
	scale     int
	reference int64
	text      string
	isText    bool
	missing   bool
	number    float64
	parent    *outside
}

// dumpAttributes runs bufr_dump -ja of Debian's libeccodes-tools on a file and returns the values of each message
// in the order of their index.
func dumpAttributes(t *testing.T, name string) [][]*outside {
	t.Helper()
	tool := sharedtest.Tool(t, "bufr_dump", "libeccodes-tools")
	out, err := exec.Command(tool, "-ja", name).Output()
	if err != nil {
		t.Fatalf("bufr_dump -ja %s: %v", name, err)
	}
	dec := json.NewDecoder(bytes.NewReader(out))
	dec.UseNumber()
	var messages [][]*outside
	depth := 0 // of arrays outside objects other than the outermost
	var value func(parent *outside)
	token := func() json.Token {
		k, err := dec.Token()
		if err != nil {
			t.Fatalf("bufr_dump -ja %s: %v", name, err)
		}
		return k
	}
	object := func(parent *outside) {
		o := &outside{parent: parent, scale: math.MinInt}
		for dec.More() {
			key := token().(string)
			switch key {
			case "key", "units":
				token()
			case "value":
				switch v := token().(type) {
				case json.Delim: // compressed data: not used
					for dec.More() {
						token()
					}
					token()
				case nil:
					o.missing = true
				case string:
					o.text, o.isText = v, true
				case json.Number:
					f, err := v.Float64()
					if err != nil {
						t.Fatal(err)
					}
					o.number = f
				}
			case "index", "width", "scale", "reference":
				n, err := token().(json.Number).Int64()
				if err != nil {
					t.Fatal(err)
				}
				switch key {
				case "index":
					o.index = int(n)
				case "width":
					o.width = int(n)
				case "scale":
					o.scale = int(n)
				default:
					o.reference = n
				}
			case "code":
				o.code = token().(string)
			default:
				value(o)
			}
		}
		token()
		if o.index > 0 {
			m := len(messages) - 1
			for len(messages[m]) < o.index {
				messages[m] = append(messages[m], nil)
			}
			messages[m][o.index-1] = o
		}
	}
	value = func(parent *outside) {
		switch token() {
		case json.Delim('{'):
			object(parent)
		case json.Delim('['):
			if depth == 1 {
				messages = append(messages, nil)
			}
			depth++
			for dec.More() {
				value(parent)
			}
			token()
			depth--
		}
	}
	token() // {
	token() // "messages"
	value(nil)
	return messages
}

// filterNumbers runs bufr_filter and returns, per message, numericValues: all values of all subsets. Missing is NaN.
func filterNumbers(t *testing.T, name string) [][]float64 {
	t.Helper()
	tool := sharedtest.Tool(t, "bufr_filter", "libeccodes-tools")
	rules := filepath.Join(t.TempDir(), "rules")
	if err := os.WriteFile(rules, []byte("set unpack=1;\nprint \"MESSAGE\";\nprint \"[numericValues%.17g!1]\";\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, rules, name).CombinedOutput()
	if err != nil {
		t.Fatalf("bufr_filter %s: %v\n%s", name, err, out)
	}
	var all [][]float64
	for _, w := range strings.Fields(string(out)) {
		if w == "MESSAGE" {
			all = append(all, nil)
			continue
		}
		v, err := strconv.ParseFloat(w, 64)
		if err != nil {
			t.Fatalf("bufr_filter %s prints %q", name, w)
		}
		if v == -1e100 {
			v = math.NaN()
		}
		all[len(all)-1] = append(all[len(all)-1], v)
	}
	return all
}

func decodeFile(t testing.TB, name string) []*Data {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return decodeAll(t, b)
}

func decodeAll(t testing.TB, b []byte) []*Data {
	t.Helper()
	var out []*Data
	r := NewBytesReader(b)
	for {
		m, err := r.Next()
		if m == nil && err != nil && err.Error() == "EOF" {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		d, err := Decode(m)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, d)
	}
}

func sharedMessages(t testing.TB) []string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/bufr"), "*.bufr"))
	if err != nil || len(names) < 12 {
		t.Fatalf("%d messages in ../shared/data/bufr, expected 12 or more", len(names))
	}
	vectors, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "standards/vectors"), "*.bufr"))
	if err != nil || len(vectors) != 3 {
		t.Fatalf("%d vectors in ../shared/standards, expected 3", len(vectors))
	}
	return append(names, vectors...)
}

// TestAgainstEccodes compares every value of every subset of every shared message with ecCodes: descriptor,
// width, scale, reference, text, missing, to which value it refers back, and the number as a double to 1 part in 10^12
// (ecCodes multiplies by a power of ten, which may differ from the nearest double in the last bit).
func TestAgainstEccodes(t *testing.T) {
	for _, name := range sharedMessages(t) {
		t.Run(filepath.Base(name), func(t *testing.T) {
			compareWithEccodes(t, name)
		})
	}
}

func compareWithEccodes(t *testing.T, name string) {
	t.Helper()
	attributes := dumpAttributes(t, name)
	numbers := filterNumbers(t, name)
	ours := decodeFile(t, name)
	if len(ours) != len(attributes) || len(ours) != len(numbers) {
		t.Fatalf("%d messages, ecCodes has %d", len(ours), len(numbers))
	}
	compared, texts, targets := 0, 0, 0
	for m, d := range ours {
		if d.Message.Compressed {
			t.Fatal("compressed: use compareNumbers")
		}
		k := 0 // in the message
		for i := range d.Subsets() {
			first := k
			for it := range d.Subset(i).Items() {
				where := fmt.Sprintf("message %d subset %d item %d %s", m+1, i+1, it.Index+1, it.Path())
				if k >= len(attributes[m]) || k >= len(numbers[m]) {
					t.Fatalf("%s: ecCodes has only %d values", where, len(numbers[m]))
				}
				o, number := attributes[m][k], numbers[m][k]
				k++
				f := it.Field
				if it.Index != k-first-1 {
					t.Fatalf("%s: item %d has Index %d", where, k-first-1, it.Index)
				}
				if o == nil {
					t.Errorf("%s: ecCodes prints no such index", where)
					continue
				}
				want := f.Descriptor.String()
				switch {
				case f.Kind == Associated:
					want = "999999"
				case f.Operator != 0:
					want = f.Operator.String()
				}
				// ecCodes prints no code beside inserted text and values that refer back.
				if o.code != want && !((f.dynamic || f.Operator.X() == 5) && o.code == "") {
					t.Errorf("%s: descriptor %s, ecCodes %s", where, want, o.code)
				}
				if o.scale != math.MinInt && f.Kind != Text && (o.width != f.Width || o.scale != f.Scale || o.reference != f.Reference) {
					t.Errorf("%s: width %d scale %d reference %d, ecCodes %d %d %d", where, f.Width, f.Scale, f.Reference, o.width, o.scale, o.reference)
				}
				target := -1
				if f.Kind == Associated || f.dynamic || f.Descriptor == FXY(0, 33, 7) && d.Program.bitmaps {
					if o.parent != nil {
						target = o.parent.index - 1 - first
					}
					targets++
				}
				if it.Target != target {
					t.Errorf("%s: qualifies %d, ecCodes %d", where, it.Target, target)
				}
				compared++
				switch {
				case f.Kind == Operator:
				case f.Kind == Text:
					texts++
					// ecCodes calls a text of zero octets missing; ours is there and empty.
					text := strings.TrimRight(o.text, " ")
					if o.missing && !it.Missing && len(bytes.Trim(it.AppendText(nil), "\x00")) > 0 || it.Missing && !o.missing || it.Text() != text {
						t.Errorf("%s: %q missing %v, ecCodes %q missing %v", where, it.Text(), it.Missing, o.text, o.missing)
					}
				default:
					v := it.Value()
					if math.IsNaN(v) != math.IsNaN(number) || math.Abs(v-number) > 1e-12*math.Abs(number) {
						t.Errorf("%s: %v, ecCodes %v", where, v, number)
					}
					if it.Missing != o.missing {
						t.Errorf("%s: missing %v, ecCodes %v", where, it.Missing, o.missing)
					}
				}
			}
		}
		if k != len(numbers[m]) {
			t.Errorf("message %d: %d values, ecCodes has %d", m+1, k, len(numbers[m]))
		}
	}
	if compared == 0 {
		t.Error("nothing was compared")
	}
	t.Logf("%d messages, %d values equal ecCodes', %d of them texts, %d refer back", len(ours), compared, texts, targets)
}
