package indices

import (
	"syscall"
	"testing"

	"leadline/internal/flighttest"
)

// A flight with 7,000 samples of ascent. Budgets: 5 ms without uncertainty, 150 ms with
// 500 members, on one core.
func BenchmarkFind(b *testing.B) {
	f := flighttest.New(8750)
	table, _ := flighttest.Products(f)
	for _, c := range []struct {
		name    string
		members int
	}{{"values", 0}, {"500 members", 500}} {
		b.Run(c.name, func(b *testing.B) {
			set := Default()
			set.Members = c.members
			Find(f, &table, set) // tables are built once
			b.ReportAllocs()
			before := processor(b)
			for b.Loop() {
				Find(f, &table, set)
			}
			b.ReportMetric((processor(b)-before)*1000/float64(b.N), "cpu-ms/op")
		})
	}
}

// processor is this process's processor time in s: a clock on a busy machine measures its
// other users.
func processor(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)*1e-6
}
