package netcdf

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

// Tests compare with the netCDF C library's own tools (Debian package netcdf-bin).

func netcdfTool(t testing.TB, name string) string { return sharedtest.Tool(t, name, "netcdf-bin") }

// run runs a tool and returns what it prints.
func run(t testing.TB, tool string, args ...string) string {
	t.Helper()
	var stderr strings.Builder
	cmd := exec.Command(netcdfTool(t, tool), args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %q: %v: %s", tool, args, err, stderr.String())
	}
	return string(out)
}

// generate makes a file from CDL text with ncgen.
func generate(t testing.TB, kind, cdl string) string {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.cdl"), filepath.Join(dir, "out.nc")
	if err := os.WriteFile(in, []byte(cdl), 0o600); err != nil {
		t.Fatal(err)
	}
	run(t, "ncgen", "-k", kind, "-o", out, in)
	return out
}

// store writes a Dataset to a file.
func store(t testing.TB, d *Dataset) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "out.nc")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	n, err := d.WriteTo(file)
	if err != nil {
		t.Fatal(err)
	}
	if size, err := d.Size(); err != nil || size != n {
		t.Fatalf("Size gives %d, %v; %d bytes were written", size, err, n)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// dumped returns the values that ncdump prints with 17 digits, as words.
func dumped(t testing.TB, path string) map[string][]string {
	t.Helper()
	_, text, found := strings.Cut(run(t, "ncdump", "-p", "9,17", path), "\ndata:\n")
	values := map[string][]string{}
	if !found {
		return values
	}
	for {
		name, rest, ok := strings.Cut(text, " =")
		if !ok {
			return values
		}
		name = strings.TrimSpace(name)
		var word strings.Builder
		quoted, end := false, -1
		for i := 0; i < len(rest) && end < 0; i++ {
			switch c := rest[i]; {
			case c == '\\' && quoted:
				word.WriteString(rest[i : i+2])
				i++
			case c == '"':
				quoted = !quoted
				word.WriteByte(c)
			case quoted:
				word.WriteByte(c)
			case c == ',' || c == ';':
				if word.Len() > 0 {
					values[name] = append(values[name], word.String())
				}
				word.Reset()
				if c == ';' {
					end = i
				}
			case c != ' ' && c != '\n':
				word.WriteByte(c)
			}
		}
		if end < 0 {
			t.Fatalf("ncdump output of %s does not end", name)
		}
		text = rest[end+1:]
	}
}

// number turns a word of ncdump's into the stored value; "_" is the fill value.
func number(t testing.TB, v *Variable, word string) float64 {
	t.Helper()
	if word == "_" {
		p, err := v.Packing()
		if err != nil || len(p.Missing) == 0 {
			t.Fatalf("variable %s: no fill value for _: %v", v.Name, err)
		}
		return p.Missing[0]
	}
	w := strings.TrimRight(word, "ULu")
	switch v.Type {
	case Byte, Short, UByte, UShort:
		w = strings.TrimRight(w, "bsUuBS")
	case Float:
		w = strings.TrimSuffix(w, "f") // 1.5f, NaNf, Infinityf
	}
	x, err := strconv.ParseFloat(w, 64)
	if err != nil {
		t.Fatalf("variable %s: %v", v.Name, err)
	}
	if v.Type == Float {
		x = float64(float32(x))
	}
	return x
}

// compareWithNcdump reads every numeric variable of a file and compares it with
// what ncdump prints. It returns how many values it compared.
func compareWithNcdump(t testing.TB, path string) int {
	t.Helper()
	f := openTest(t, path)
	words := dumped(t, path)
	compared := 0
	for _, v := range f.Variables {
		if v.Type == Char {
			continue
		}
		got, err := f.Float64s(v)
		if err != nil {
			t.Fatalf("%s: %v", v.Name, err)
		}
		want := words[v.Name]
		if len(got) != len(want) {
			t.Fatalf("%s: %d values, ncdump prints %d", v.Name, len(got), len(want))
		}
		for i := range got {
			if x := number(t, v, want[i]); !same(got[i], x) {
				t.Fatalf("%s[%d] = %v, ncdump prints %s", v.Name, i, got[i], want[i])
			}
			compared++
		}
	}
	return compared
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

func openTest(t testing.TB, path string) *File {
	t.Helper()
	o, err := openFile(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := o.Close(); err != nil {
			t.Error(err)
		}
	})
	return o.File
}
