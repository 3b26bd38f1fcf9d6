package follow

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/sounding"
)

// Kinds of alarm.
const (
	AlarmNoData     = "no data"
	AlarmSatellites = "no satellites"
	AlarmSlow       = "slow ascent"
	AlarmEarly      = "early burst"
	AlarmTime       = "wrong time"
	AlarmDisk       = "not saved"
)

// Alarm is something a person must know now, in one sentence. It stays in the list when
// it is over.
type Alarm struct {
	Kind     string    `json:"kind"`
	Since    time.Time `json:"since_utc"`
	Over     time.Time `json:"over_utc,omitzero"` // zero while it holds
	Sentence string    `json:"sentence"`
	Ended    string    `json:"ended,omitempty"` // how it ended, in one sentence
}

// view is what alarms are judged by.
type view struct {
	now      time.Time
	received bool    // anything ever
	age      float64 // s since the last bytes came
	phase    sounding.Phase
	released bool
	since    float64 // s from release to the last row

	satellites sounding.Number // at the last row
	blind      float64         // s of rows without a position, up to the last row
	few        float64         // s of rows with too few satellites, up to the last row

	rate   sounding.Number // m s⁻¹, mean over the window of the alarm
	target sounding.Number // planned, NotSet where none is
	window float64         // s, what rate is the mean over

	burst      bool
	burstAt    sounding.Number // m
	burstHPa   sounding.Number
	expected   sounding.Number // m
	burstClock string

	clock  sounding.Number // s, data's time minus this computer's; NotSet where it cannot be told
	unsure string          // why received bytes are not on disk; "" where they are
}

// Judged says what is so at this moment: an alarm's reason to begin, and to end.
type judged struct {
	begin, end bool
	hold       float64 // s that begin must hold before the alarm begins
	clear      float64 // s that end must hold before it is over
	sentence   string
	ended      string
}

// alarms holds the alarms of a flight with their hysteresis: an alarm begins when its
// reason has held for a while and ends when the opposite has; between two limits it stays
// what it is.
type alarms struct {
	set   *Settings
	list  []Alarm
	began map[string]time.Time // since when a reason to begin, or to end, has held
}

func newAlarms(set *Settings) *alarms { return &alarms{set: set, began: map[string]time.Time{}} }

// active returns the index of the alarm of a kind that holds, -1 where none does.
func (a *alarms) active(kind string) int {
	for i := len(a.list) - 1; i >= 0; i-- {
		if a.list[i].Kind == kind && a.list[i].Over.IsZero() {
			return i
		}
	}
	return -1
}

// mostAlarms bounds the list: an input that comes and goes for hours must not fill memory.
const mostAlarms = 200

// step judges anew and returns the alarms that began or ended.
func (a *alarms) step(v *view) (began, over []Alarm) {
	for _, kind := range []string{AlarmDisk, AlarmNoData, AlarmSatellites, AlarmSlow, AlarmEarly, AlarmTime} {
		j := a.judge(kind, v)
		i := a.active(kind)
		if i >= 0 {
			a.list[i].Sentence = j.or(a.list[i].Sentence)
			if a.held(kind+" end", j.end, j.clear, v.now) {
				a.list[i].Over, a.list[i].Ended = v.now.UTC(), j.ended
				over = append(over, a.list[i])
			}
			continue
		}
		if a.held(kind, j.begin, j.hold, v.now) && len(a.list) < mostAlarms {
			a.list = append(a.list, Alarm{Kind: kind, Since: v.now.UTC(), Sentence: j.sentence})
			began = append(began, a.list[len(a.list)-1])
		}
	}
	return began, over
}

// or keeps the sentence an alarm began with where its reason no longer holds.
func (j judged) or(before string) string {
	if j.begin {
		return j.sentence
	}
	return before
}

// held tells whether something has been so for long enough.
func (a *alarms) held(what string, so bool, long float64, now time.Time) bool {
	if !so {
		delete(a.began, what)
		return false
	}
	since, known := a.began[what]
	if !known || now.Before(since) {
		a.began[what] = now
		since = now
	}
	if now.Sub(since).Seconds() < long {
		return false
	}
	delete(a.began, what)
	return true
}

func (a *alarms) judge(kind string, v *view) judged {
	s := a.set
	rising := v.released && !v.burst && v.phase != sounding.AfterLanding
	switch kind {
	case AlarmDisk:
		return judged{begin: v.unsure != "", end: v.unsure == "", hold: 2, clear: 2,
			sentence: "received data are in memory only: " + v.unsure + "; make room on the disk, do not end the program",
			ended:    "everything received is on disk again"}
	case AlarmNoData:
		// After the burst the signal goes behind the horizon: that is how flights end.
		quiet := v.received && v.age >= s.NoData && !v.burst && v.phase != sounding.AfterLanding
		return judged{begin: quiet, end: v.age < s.NoDataClear || v.burst, clear: s.NoDataClear,
			sentence: fmt.Sprintf("nothing has been received for %s: look at receiver, antenna and cable", span(v.age)),
			ended:    "data come again"}
	case AlarmSatellites:
		few := v.few >= s.SatellitesAfter || v.blind >= s.SatellitesAfter
		sentence := fmt.Sprintf("the radiosonde has had no position for %s: heights and winds are missing", span(v.blind))
		if v.satellites.Set() && v.few >= s.SatellitesAfter {
			sentence = fmt.Sprintf("the radiosonde has had fewer than %.0f satellites for %s (%.0f now): heights and winds are not to be relied on", s.Satellites, span(v.few), v.satellites.Value())
		}
		return judged{begin: rising && few, end: v.few == 0 && v.blind == 0 || !rising, clear: s.SatellitesClear,
			sentence: sentence, ended: "enough satellites again"}
	case AlarmSlow:
		slow, good, plan := s.Slow, s.SlowClear, "no rate was planned; 5 to 6 m/s are usual"
		if v.target.Set() {
			slow, good, plan = s.SlowShare*v.target.Value(), s.SlowClearShare*v.target.Value(), fmt.Sprintf("planned were %.1f m/s", v.target.Value())
		}
		r := v.rate.Value()
		known := rising && v.rate.Set() && v.since >= s.SlowAfter
		words := fmt.Sprintf("the balloon climbs at %.1f m/s over the last %s", r, span(v.window))
		if r < 0.2 {
			words = fmt.Sprintf("the balloon has not climbed over the last %s (%.1f m/s)", span(v.window), r)
		}
		return judged{begin: known && r < slow, end: known && r > good || !rising, hold: 20, clear: 30,
			sentence: words + "; " + plan + ": ice, rain, a leak or too little gas; burst will come late or not at all",
			ended:    fmt.Sprintf("the balloon climbs at %.1f m/s again", r)}
	case AlarmEarly:
		low := v.burstHPa.Set() && v.burstHPa.Value() > s.EarlyPressure || !v.burstHPa.Set() && v.burstAt.Value() < 15000
		below := v.expected.Set() && v.burstAt.Value() < s.EarlyShare*v.expected.Value()
		sentence := fmt.Sprintf("the balloon burst at %s UTC at %.1f km", v.burstClock, v.burstAt.Value()/1000)
		if v.burstHPa.Set() {
			sentence += fmt.Sprintf(" (%.0f hPa)", v.burstHPa.Value())
		}
		if v.expected.Set() {
			sentence += fmt.Sprintf("; expected was %.1f km", v.expected.Value()/1000)
		}
		if low {
			sentence += fmt.Sprintf("; %.0f hPa were not reached: decide whether to release again", s.EarlyPressure)
		}
		// It is what happened: it does not end.
		return judged{begin: v.burst && v.burstAt.Set() && (low || below), hold: 10, sentence: sentence}
	case AlarmTime:
		off := math.Abs(v.clock.Value())
		way := "ahead of"
		if v.clock.Value() < 0 {
			way = "behind"
		}
		return judged{begin: v.clock.Set() && off > s.WrongTime, end: v.clock.Set() && off < s.WrongTimeClear, hold: 10, clear: 10,
			sentence: fmt.Sprintf("the time in the data is %s %s this computer's clock: one of the two is wrong, or the recipe's time zone", span(off), way),
			ended:    "the time in the data and this computer's clock agree"}
	}
	return judged{}
}

// span writes seconds as people say them.
func span(s float64) string {
	switch {
	case math.IsNaN(s):
		return "an unknown time"
	case s < 120:
		return fmt.Sprintf("%.0f s", s)
	case s < 2*3600:
		return fmt.Sprintf("%.0f min", s/60)
	case s < 48*3600:
		m := int(math.Round(s / 60))
		return fmt.Sprintf("%d h %d min", m/60, m%60)
	}
	return fmt.Sprintf("%.0f days", s/86400)
}
