package api_test

import (
	"context"
	"encoding/json"
	"testing"

	"leadline/internal/api"
	"leadline/internal/api/apitest"
	"leadline/internal/truth"
)

// The list of 2,000 flights, from the file to the JSON that the page gets.
func BenchmarkLogbook(b *testing.B) {
	dir := b.TempDir()
	bench, s, err := apitest.Open(dir, clock)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	ctx := context.Background()
	if _, err := apitest.Add(ctx, bench, []apitest.Flight{{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Until: truth.UntilBurst}}); err != nil {
		b.Fatal(err)
	}
	if err := apitest.Years(ctx, s, dir, 2000); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		rows, err := bench.Rows(ctx)
		if err != nil {
			b.Fatal(err)
		}
		text, err := json.Marshal(api.Logbook{Flights: rows})
		if err != nil {
			b.Fatal(err)
		}
		b.SetBytes(int64(len(text)))
	}
}
