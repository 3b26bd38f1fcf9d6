package follow

import (
	"leadline/internal/prelaunch"
	"leadline/internal/sounding"
)

// LastReceived is the last position a flight sent.
type LastReceived struct {
	Known  bool            `json:"known"`
	Place  prelaunch.Place `json:"place"`
	Height sounding.Number `json:"height_m_msl"`
	UTC    string          `json:"utc"`
}

// Down says where a flight that is over was last received and where it is expected to
// have come down, with the spread: the same estimate as in flight, from the winds it
// measured itself.
func Down(f *sounding.Final, set *prelaunch.Settings) (LastReceived, Landing) {
	if set == nil {
		set = prelaunch.Default()
	}
	last := LastReceived{Height: sounding.NotSet}
	if row, at := lastFix(f); row >= 0 {
		last = LastReceived{Known: true, Place: at, Height: sounding.NotSet, UTC: f.UTC(f.Time[row]).UTC().Format("2006-01-02T15:04:05Z")}
		if heights := f.Values(sounding.HeightMSL); heights != nil {
			last.Height = sounding.Number(heights[row])
		}
	}
	return last, expect(f, nil, nil, set).landing
}
