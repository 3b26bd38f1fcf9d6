package wind

import (
	"testing"

	"leadline/internal/authority"
)

// Rows WND-04 to WND-07: periods of the simple pendulum.
func TestPendulumAgainstAuthorities(t *testing.T) {
	authority.Run(t, "wind", func(t *testing.T, row authority.Row) {
		row.Check(t, PendulumPeriod(row.Input(t, "L")))
	})
}
