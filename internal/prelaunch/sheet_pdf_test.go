package prelaunch

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The page against readers of PDF that are not ours: pdfinfo and pdftotext.
func TestPDF(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Inputs)
		want   []string
	}{
		"example": {func(in *Inputs) {}, []string{"READY", "nozzle lift", "99", "± ", "best 23:30 UTC", "aircraft looked and listened for", "wait while one is near", "T3100042", "grid ", "ICAO class LIGHT",
			"Launch sheet · North pier", "airspace authority of the State decides", "19 left", "released at (UTC, to the second)"}},
		"ticked": {func(in *Inputs) {
			in.Plan.Ticks = []Tick{{Step: "neck", At: utc("2031-06-03T23:12:00Z"), Who: "Ł. Šípek–Ångström 気象"}}
			in.Record.Site.Name = "Žďár → pier °±–"
		}, []string{"23:12 UTC L.", "Šípek–Ångström ??", "Ždár", "-> pier °±–"}},
		"stopped": {func(in *Inputs) { in.Record.GroundCheck.Temperature = 295 }, []string{"STOP", "reject: temperature reads", "ventilate"}},
		"long list": {func(in *Inputs) {
			l := &List{}
			for i := range 200 {
				l.Steps = append(l.Steps, Step{ID: fmt.Sprint("s", i), When: "before", Text: "a step of our own with some words in it", Caution: strings.Repeat("caution ", 20)})
			}
			in.List = l
		}, []string{"did not fit on this page: it is not the whole list", "released at"}},
		"endless word": {func(in *Inputs) { in.Record.Operator = strings.Repeat("x", 400) }, []string{"released at"}},
	} {
		t.Run(name, func(t *testing.T) {
			in := example(t)
			c.change(&in)
			s, err := Prepare(in)
			if err != nil {
				t.Fatal(err)
			}
			areas, err := ReadAreas("town", []byte(`{"type":"Polygon","coordinates":[[[6.3,46.1],[6.5,46.1],[6.5,46.2],[6.3,46.2],[6.3,46.1]]]}`))
			if err != nil {
				t.Fatal(err)
			}
			var a, b bytes.Buffer
			if err := s.PDF(&a, areas, "0"); err != nil {
				t.Fatal(err)
			}
			time.Sleep(1100 * time.Millisecond) // dates in PDF are in seconds
			if err := s.PDF(&b, areas, "0"); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(a.Bytes(), b.Bytes()) {
				t.Error("the same sheet gave other bytes")
			}
			file := filepath.Join(t.TempDir(), "sheet.pdf")
			if err := os.WriteFile(file, a.Bytes(), 0o666); err != nil {
				t.Fatal(err)
			}
			info := outside(t, "pdfinfo", file)
			for _, want := range []string{"Pages:           1\n", "(A4)"} {
				if !strings.Contains(info, want) {
					t.Errorf("pdfinfo lacks %q:\n%s", want, info)
				}
			}
			text := strings.Join(strings.Fields(outside(t, "pdftotext", "-layout", file, "-")), " ")
			for _, want := range c.want {
				if !strings.Contains(text, want) {
					t.Errorf("pdftotext lacks %q:\n%s", want, text)
				}
			}
			// Nothing stands outside the page: cropped to the edge, the text is the same.
			inner := strings.Join(strings.Fields(outside(t, "pdftotext", "-layout", "-x", "20", "-y", "20", "-W", "556", "-H", "802", "-r", "72", file, "-")), " ")
			if inner != text {
				t.Errorf("text stands at or outside the edge of the page: %d of %d characters within", len(inner), len(text))
			}
		})
	}
}

func outside(t *testing.T, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Skipf("%s is not installed", name)
	}
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return string(out)
}

func TestWestern(t *testing.T) {
	for in, want := range map[string]string{
		"5 ± 1 °C – ok": "5 \xb1 1 \xb0C \x96 ok", "a → b": "a -> b", "−3 m s⁻¹": "-3 m s-\xb9", "≥ 4 µ": ">= 4 \xb5", "Łódź": "L\xf3dz", "é": "\xe9", "気": "?", "a\x00\x1b[1mb": "a[1mb", "ﬁ": "fi", "": "",
	} {
		if got := western(in); got != want {
			t.Errorf("western(%q) = %q, want %q", in, got, want)
		}
	}
}
