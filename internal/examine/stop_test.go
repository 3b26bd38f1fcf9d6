package examine

import (
	"errors"
	"testing"

	"leadline/internal/truth"
)

// A plan of many minutes ends soon after it is stopped, and reports nothing.
func TestRunStops(t *testing.T) {
	stop := make(chan struct{})
	flown := 0
	r, err := Run(Plan{Purpose: Tuning, Clean: 500, Climates: []truth.Climate{truth.Desert}, Stop: stop, Progress: func(done, _ int) {
		if flown = done; done == 1 {
			close(stop)
		}
	}})
	if !errors.Is(err, ErrStopped) || r != nil {
		t.Fatalf("report %v, error %v; want none and ErrStopped", r != nil, err)
	}
	if flown > 200 {
		t.Errorf("%d flights were flown after it was stopped", flown)
	}
}
