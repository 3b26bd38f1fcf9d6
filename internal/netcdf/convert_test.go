package netcdf

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const cdlFour = `netcdf out {
dimensions:
	time = UNLIMITED ;
	n = 3 ;
variables:
	double temperature(time) ;
		temperature:units = "K" ;
		temperature:_FillValue = -999. ;
	ubyte flag(time) ;
	int64 count(n) ;
	char word(n) ;
:note = "compressed" ;
data:
 temperature = 273.15, _, 216.65 ;
 flag = 1, 9, 4 ;
 count = 1, 9223372036854775807, -5 ;
 word = "abc" ;
}
`

func checkFour(t *testing.T, o *Opened) {
	t.Helper()
	if !o.Converted || o.Kind != Data64Bit || o.Records != 3 {
		t.Errorf("converted %v, kind %s, %d records", o.Converted, o.Kind, o.Records)
	}
	x := make([]float64, 3)
	if err := o.Packed(o.Variable("temperature"), nil, nil, x); err != nil || x[0] != 273.15 || x[1] == x[1] || x[2] != 216.65 {
		t.Errorf("temperature %v, %v", x, err)
	}
	k := make([]int64, 3)
	if err := o.ReadInt64(o.Variable("count"), nil, nil, k); err != nil || k[1] != 9223372036854775807 {
		t.Errorf("count %v, %v", k, err)
	}
	if s, err := o.Texts(o.Variable("word")); err != nil || s[0] != "abc" {
		t.Errorf("word %q, %v", s, err)
	}
}

// empty fails the test if a conversion left something in its folder.
func empty(t *testing.T, dir string) {
	t.Helper()
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// netCDF-4 files made by ncgen, and compressed by nccopy, are converted and read.
func TestConvertClassic(t *testing.T) {
	plain := generate(t, "netCDF-4", cdlFour)
	compressed := filepath.Join(t.TempDir(), "-k odd name;.nc") // a name that must not reach nccopy
	run(t, "nccopy", "-d", "5", "-s", plain, compressed)
	dir := t.TempDir()
	for _, path := range []string{plain, compressed} {
		o, err := OpenPath(context.Background(), path, ConvertLimits{TempDir: dir})
		if err != nil {
			t.Fatal(err)
		}
		checkFour(t, o)
		if err := o.Close(); err != nil {
			t.Error(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		o, err = ConvertClassicReader(context.Background(), bytes.NewReader(b), int64(len(b)), ConvertLimits{TempDir: dir})
		if err != nil {
			t.Fatal(err)
		}
		checkFour(t, o)
		if err := o.Close(); err != nil {
			t.Error(err)
		}
	}
	empty(t, dir)
}

// Classic files are opened without nccopy.
func TestOpenPathClassic(t *testing.T) {
	o, err := OpenPath(context.Background(), store(t, datasetSix(Offset64Bit)), ConvertLimits{Program: "/nowhere/nccopy"})
	if err != nil || o.Converted || o.Kind != Offset64Bit {
		t.Fatalf("%v, %v", o, err)
	}
	if err := o.Close(); err != nil {
		t.Error(err)
	}
	if _, err := ConvertClassic(context.Background(), store(t, datasetSix(Classic)), ConvertLimits{}); err == nil {
		t.Error("a classic file was converted")
	}
	if o, err := OpenPath(context.Background(), filepath.Join(t.TempDir(), "none.nc"), ConvertLimits{}); err == nil || o != nil {
		t.Error("a file that is not there was opened")
	}
	if o, err := OpenPath(context.Background(), t.TempDir(), ConvertLimits{}); err == nil || o != nil {
		t.Error("a folder was opened")
	}
}

// hdf5Like returns the path of a file with the signature only.
func hdf5Like(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "four.nc")
	if err := os.WriteFile(path, []byte("\x89HDF\r\n\x1a\nno more than the signature"), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestConvertWithoutNccopy(t *testing.T) {
	dir := t.TempDir()
	o, err := OpenPath(context.Background(), hdf5Like(t), ConvertLimits{Program: "/nowhere/nccopy", TempDir: dir})
	if !errors.Is(err, ErrNoConverter) || o != nil || !strings.Contains(err.Error(), "netcdf-bin") || !strings.Contains(err.Error(), "four.nc") {
		t.Errorf("%v, %v", o, err)
	}
	empty(t, dir)
}

// A damaged file, one with groups, one with strings: the error has nccopy's words
// and nothing is left behind.
func TestConvertRefused(t *testing.T) {
	netcdfTool(t, "nccopy")
	groups := generate(t, "netCDF-4", "netcdf out { group: g { dimensions: n = 2 ; variables: int x(n) ; data: x = 1, 2 ; } }")
	texts := generate(t, "netCDF-4", `netcdf out { variables: string s ; data: s = "a" ; }`)
	for _, path := range []string{hdf5Like(t), groups, texts} {
		dir := t.TempDir()
		o, err := ConvertClassic(context.Background(), path, ConvertLimits{TempDir: dir})
		if err == nil || o != nil || !strings.Contains(err.Error(), "nccopy could not convert") || strings.Contains(err.Error(), dir) {
			t.Errorf("%v, %v", o, err)
		}
		empty(t, dir)
	}
}

// script makes a stand-in for nccopy; it is called as <script> -k cdf5 in out.
func script(t *testing.T, body string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "stand-in")
	if err := os.WriteFile(path, []byte("#!/bin/sh\n"+body+"\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat("/bin/sh"); err != nil {
		t.Skipf("skipped: no /bin/sh: %v", err)
	}
	return path
}

// The time limit ends the program and what it started.
func TestConvertTimeout(t *testing.T) {
	dir, mark := t.TempDir(), filepath.Join(t.TempDir(), "mark")
	started := time.Now()
	o, err := ConvertClassic(context.Background(), hdf5Like(t), ConvertLimits{
		TempDir: dir, Timeout: 300 * time.Millisecond, Program: script(t, fmt.Sprintf("(sleep 2; echo late > %s) & sleep 60", mark)),
	})
	if !errors.Is(err, context.DeadlineExceeded) || o != nil || !strings.Contains(err.Error(), "300ms") {
		t.Errorf("%v, %v", o, err)
	}
	if d := time.Since(started); d > 30*time.Second {
		t.Errorf("it took %s", d)
	}
	empty(t, dir)
	time.Sleep(2500 * time.Millisecond)
	if _, err := os.Stat(mark); err == nil {
		t.Error("a child of the program was still running")
	}
}

func TestConvertCancelled(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	time.AfterFunc(100*time.Millisecond, cancel)
	o, err := ConvertClassic(ctx, hdf5Like(t), ConvertLimits{TempDir: dir, Program: script(t, "sleep 60")})
	if !errors.Is(err, context.Canceled) || o != nil {
		t.Errorf("%v, %v", o, err)
	}
	empty(t, dir)
}

// The output limit holds while the program runs, and for what it left.
func TestConvertOutputLimit(t *testing.T) {
	for _, body := range []string{
		`while :; do cat "$3" "$3" "$3" "$3" >> "$4"; done`,
		`head -c 200000 /dev/zero > "$4"`,
	} {
		dir := t.TempDir()
		o, err := ConvertClassic(context.Background(), hdf5Like(t), ConvertLimits{TempDir: dir, OutputBytes: 100_000, Timeout: 20 * time.Second, Program: script(t, body)})
		if err == nil || o != nil || !strings.Contains(err.Error(), "100000 bytes") {
			t.Errorf("%s: %v, %v", body, o, err)
		}
		empty(t, dir)
	}
	netcdfTool(t, "nccopy")
	bomb := filepath.Join(t.TempDir(), "bomb.nc")
	run(t, "nccopy", "-d", "9", generate(t, "netCDF-4", "netcdf out { dimensions: n = 4000000 ; variables: double x(n) ; data: x = 1 ; }"), bomb)
	dir := t.TempDir()
	o, err := ConvertClassic(context.Background(), bomb, ConvertLimits{TempDir: dir, OutputBytes: 1 << 20})
	if err == nil || o != nil || !strings.Contains(err.Error(), "1048576 bytes") {
		t.Errorf("%v, %v", o, err)
	}
	empty(t, dir)
	if _, err := ConvertClassic(context.Background(), bomb, ConvertLimits{InputBytes: 100}); err == nil {
		t.Error("a file beyond the input limit was converted")
	}
}

// Nothing of the user's environment reaches the program, and a copy that is no
// netCDF file is refused.
func TestConvertEnvironment(t *testing.T) {
	t.Setenv("LEADLINE_TEST_SECRET", "lake")
	dir := t.TempDir()
	o, err := ConvertClassic(context.Background(), hdf5Like(t), ConvertLimits{TempDir: dir, Program: script(t, `env >&2; exit 3`)})
	if err == nil || o != nil || strings.Contains(err.Error(), "LEADLINE_TEST_SECRET") || !strings.Contains(err.Error(), "HDF5_PLUGIN_PATH") {
		t.Errorf("%v, %v", o, err)
	}
	o, err = ConvertClassic(context.Background(), hdf5Like(t), ConvertLimits{TempDir: dir, Program: script(t, `echo nothing > "$4"`)})
	if err == nil || o != nil || !strings.Contains(err.Error(), "no readable file") {
		t.Errorf("%v, %v", o, err)
	}
	empty(t, dir)
}
