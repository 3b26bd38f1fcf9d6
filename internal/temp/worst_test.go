package temp

import (
	"runtime"
	"strings"
	"testing"
)

// The most that one bulletin can take: groups that each begin a report, and
// levels of the fewest characters.
func TestWorstBulletinStaysSmall(t *testing.T) {
	for name, text := range map[string]string{
		"starts": strings.Repeat("TTAA\n", 200_000),
		"levels": strings.Repeat("TTBB 03128 00042 "+strings.Repeat("00/// ", 900)+"=\n", 100),
		"stray":  strings.Repeat("= x\n", 200_000),
	} {
		r := NewReader(strings.NewReader(text))
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		b, err := r.Next()
		runtime.ReadMemStats(&after)
		if err != nil || b.FindingCount == 0 && len(b.Reports) == 0 {
			t.Errorf("%s: %v, nothing read", name, err)
		}
		if used := after.TotalAlloc - before.TotalAlloc; used > 48<<20 {
			t.Errorf("%s: %d MiB allocated for one bulletin", name, used>>20)
		} else {
			t.Logf("%s: %.1f MiB", name, float64(used)/(1<<20))
		}
	}
}
