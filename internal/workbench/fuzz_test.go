package workbench

import "testing"

// Settings that are read without an error explain themselves without one.
func FuzzReadSettings(f *testing.F) {
	f.Add([]byte("[verdict]\nlook_top_hpa = 50.0\n"))
	f.Add([]byte("[levels]\nheight_step_m = 1e300\n[check.spike]\n"))
	for _, s := range DefaultTexts() {
		f.Add([]byte("[" + s.Section + "]\n"))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := ReadSettings("fuzz", text)
		if (s == nil) == (err == nil) {
			t.Fatalf("settings %v with error %v", s != nil, err)
		}
		if err != nil {
			return
		}
		if list, err := Explain("fuzz", text); err != nil || len(list) == 0 {
			t.Fatalf("settings that were read explain themselves with %d lines, %v", len(list), err)
		}
	})
}
