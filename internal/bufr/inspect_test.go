package bufr

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
)

// TestInspectJSON: the JSON is JSON, and has every value of every message with the right field.
func TestInspectJSON(t *testing.T) {
	type field struct {
		Descriptor, Name, Unit, Kind string
		Bits, Scale                  int
		Reference                    int64
	}
	type value struct {
		Index, Field   int
		Row, Qualifies *int
		Raw            *uint64
		Value          any
		Meaning        string
	}
	compared := 0
	for _, name := range sharedMessages(t) {
		var out bytes.Buffer
		var p Inspector
		all := decodeFile(t, name)
		for _, d := range all {
			if err := p.JSON(&out, d); err != nil {
				t.Fatal(err)
			}
		}
		dec := json.NewDecoder(&out)
		dec.UseNumber()
		for m, d := range all {
			var got struct {
				Edition int
				Fields  []field
				Subsets [][]value
			}
			if err := dec.Decode(&got); err != nil {
				t.Fatalf("%s message %d: %v", filepath.Base(name), m+1, err)
			}
			if got.Edition != d.Message.Edition || len(got.Subsets) != d.Subsets() {
				t.Fatalf("%s message %d: edition %d, %d subsets", filepath.Base(name), m+1, got.Edition, len(got.Subsets))
			}
			for i, values := range got.Subsets {
				k := 0
				for it := range d.Subset(i).Items() {
					v := values[k]
					k++
					f := got.Fields[v.Field]
					where := fmt.Sprintf("%s message %d item %d", filepath.Base(name), m+1, k)
					if v.Index != k || f.Descriptor != it.Field.shown().String() || f.Name != it.Field.Title() || f.Bits != it.Field.Width || f.Scale != it.Field.Scale || f.Reference != it.Field.Reference {
						t.Fatalf("%s: %+v %+v", where, v, f)
					}
					if (v.Row == nil) != (it.Row < 0) || v.Row != nil && *v.Row != it.Row+1 || (v.Qualifies == nil) != (it.Target < 0) || v.Qualifies != nil && *v.Qualifies != it.Target+1 {
						t.Errorf("%s: row or target", where)
					}
					if v.Meaning != it.Meaning() {
						t.Errorf("%s: meaning %q, want %q", where, v.Meaning, it.Meaning())
					}
					switch {
					case it.Missing || it.Field.Kind == Operator:
						if v.Raw != nil || v.Value != nil {
							t.Errorf("%s: %v %v, want null", where, v.Raw, v.Value)
						}
					case it.Field.Kind == Text:
						if v.Value == nil || strings.TrimRight(v.Value.(string), " \x00") != it.Text() {
							t.Errorf("%s: %v, want %q", where, v.Value, it.Text())
						}
					default:
						x, err := v.Value.(json.Number).Float64()
						if err != nil || *v.Raw != it.Raw || x != it.Value() {
							t.Errorf("%s: raw %d value %v, want %d %v", where, *v.Raw, v.Value, it.Raw, it.Value())
						}
					}
					compared++
				}
				if k != len(values) {
					t.Errorf("%s message %d: %d values, want %d", filepath.Base(name), m+1, len(values), k)
				}
			}
		}
	}
	if compared == 0 {
		t.Error("nothing was compared")
	}
}

// TestInspectText: one line a value; the coded figures stand in it.
func TestInspectText(t *testing.T) {
	e, err := NewEncoder(header(4, false, FXY(2, 4, 2), FXY(0, 31, 21), FXY(0, 1, 1), FXY(2, 4, 0), FXY(0, 1, 11), FXY(1, 2, 0), FXY(0, 31, 1), FXY(0, 12, 101), FXY(0, 8, 42),
		FXY(0, 2, 97), FXY(2, 6, 5), FXY(0, 12, 250)), nil)
	if err != nil {
		t.Fatal(err)
	}
	e.Code(FXY(0, 31, 21), 1)
	e.Code(FXY(2, 4, 2), 3)
	e.Code(FXY(0, 1, 1), 10)
	e.Text(FXY(0, 1, 11), `LA"KE`)
	e.Table(2, Column{FXY(0, 12, 101), []float64{273.15, math.NaN()}}, Column{FXY(0, 8, 42), []float64{131072 + 4, 0}})
	e.Code(FXY(0, 2, 97), 8)
	e.Code(FXY(2, 6, 5), 7)
	e.EndSubset()
	b, err := e.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	b = append([]byte("IUSC01 LAKE 251200\r\r\n"), b...)
	var out bytes.Buffer
	var p Inspector
	if err := p.Text(&out, decodeAll(t, b)[0]); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"skipped byte 0: bulletin heading IUSC01 LAKE 251200\n",
		"message at byte 21  octets ",
		"  typical time 2026-11-25T12:00:00Z  subsets 1  observed 1  compressed 0\n",
		"      1  031021  1  1  (6 bits, Code table) Associated field significance",
		"      2  204002  3  3  (2 bits, Associated) Associated field of: WMO block number  of 3\n",
		"      3  001001  10  10  (7 bits, Numeric) WMO block number\n",
		`      4  001011  "LA\"KE"  (72 bits, CCITT IA5) `,
		"      6 [1] 012101  27315  273.15 K  (16 bits) Temperature/air temperature\n",
		"      7 [1] 008042  131076  131076  (18 bits, Flag table) Extended vertical sounding significance  = Surface; Freezing level\n",
		"      8 [2] 012101  missing K\n",
		"      9 [2] 008042  0  0\n",
		"     10  002097  8  8  (5 bits, Code table) Type of humidity sensor  = thin-film capacitive sensor with active de-icing\n",
		"     11  206005  7  unknown  (5 bits, unknown) Local element\n",
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
}

// TestInspectWriteError: an error of the writer comes back.
func TestInspectWriteError(t *testing.T) {
	d := decodeAll(t, written(t)[0])[0]
	var p Inspector
	if err := p.Text(failing{}, d); !errors.Is(err, errFull) {
		t.Errorf("error %v", err)
	}
	if err := p.JSON(failing{}, d); !errors.Is(err, errFull) {
		t.Errorf("error %v", err)
	}
}

var errFull = errors.New("no space left")

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errFull }

// TestAppendDecimal compares with exact rationals of the standard library.
func TestAppendDecimal(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for i := range 20000 {
		n := int64(r.Uint64()) >> r.IntN(64)
		scale := r.IntN(30) - 8
		if i < 40 {
			n, scale = int64(i-20), i%5-1
		}
		got := string(AppendDecimal(nil, n, scale))
		want := new(big.Rat).SetInt64(n)
		ten := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(scale, -scale))), nil))
		if scale > 0 {
			want.Quo(want, ten)
		} else {
			want.Mul(want, ten)
		}
		x, ok := new(big.Rat).SetString(got)
		if !ok || x.Cmp(want) != 0 {
			t.Fatalf("%d at scale %d: %s", n, scale, got)
		}
		if scale > 0 && scale <= 18 {
			if p := strings.IndexByte(got, '.'); len(got)-p-1 != scale {
				t.Fatalf("%d at scale %d: %s has not %d figures after the point", n, scale, got, scale)
			}
		}
	}
}
