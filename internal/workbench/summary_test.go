package workbench

import "testing"

func TestDurationsAsPeopleSayThem(t *testing.T) {
	for seconds, want := range map[float64]string{0: "0 s", 131: "131 s", 599: "599 s", 1500: "25 min", 10803: "3 h 0 min", 7200: "2 h 0 min"} {
		if got := duration(seconds); got != want {
			t.Errorf("duration(%g) = %q, want %q", seconds, got, want)
		}
	}
}

func TestSentences(t *testing.T) {
	for text, want := range map[string]string{"humidity is dry": "Humidity is dry.", "Done.": "Done.", "": "", " why? ": "Why?", "±3 s": "±3 s."} {
		if got := sentence(text); got != want {
			t.Errorf("sentence(%q) = %q, want %q", text, got, want)
		}
	}
}
