package truth

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"leadline/internal/sounding"
)

// File is one file of the demo campaign, in memory.
type File struct {
	Name  string // without a folder
	Bytes []byte
}

// Launch is one entry of the invented campaign's plan.
type Launch struct {
	Number   int
	Name     string // number, site and hour: the stem of its files
	Story    string // what happened, as the campaign's diary would say it
	Scenario Scenario
	Seed     uint64
	NoData   bool // nothing was received: there is only a launch record
}

// The invented basin: a lake in the southern summer, a hut on its shore and a vehicle
// that goes round it. Neither names nor heights are those of a real place.
var (
	hut = Site{Name: "Reedwater", Kind: "fixed", Latitude: -38.74213, Longitude: -70.21358, Height: 641.6, Barometer: 643.1, Undulation: 22.3}

	vehicleStops = map[string]Site{
		"dam":   {Name: "Heron", Kind: "mobile", Latitude: -38.90177, Longitude: -70.45042, Height: 655.2, Barometer: 657.0, Undulation: 22.5},
		"ridge": {Name: "Heron", Kind: "mobile", Latitude: -38.55826, Longitude: -69.98814, Height: 1084.7, Barometer: 1086.5, Undulation: 21.8},
		"delta": {Name: "Heron", Kind: "mobile", Latitude: -38.70491, Longitude: -70.40236, Height: 646.9, Barometer: 648.7, Undulation: 22.4},
	}
)

// CampaignName is what the demo campaign is called.
const CampaignName = "Reedwater lake basin"

// Campaign plans the demo: two weeks at two sites, 00 and 12 UTC and extra releases, a
// mix of instruments, and the troubles of such weeks. The same seed plans the same.
func Campaign(seed uint64) ([]Launch, error) {
	const zone = -3 * time.Hour
	plan := []struct {
		when   string // UTC, minutes
		at     string // "" the hut, else a stop of the vehicle
		sheet  string
		faults []Fault
		story  string
		change func(*Launch)
	}{
		{"12 23:04", "", "twin-humidity", nil, "first flight, everything as planned", nil},
		{"13 11:07", "", "twin-humidity", []Fault{{Name: "declared-release-late", Size: 131}}, "release pressed two minutes late", nil},
		{"13 23:02", "", "twin-humidity", []Fault{{Name: "humidity-icing"}}, "through cloud; one humidity sensor looked odd above", nil},
		{"14 17:36", "dam", "single-humidity", nil, "first flight from the vehicle", nil},
		{"15 11:05", "", "twin-humidity", []Fault{{Name: "telemetry-gap", Size: 260}, {Name: "second-receiver"}}, "receiver restarted in flight; the spare one ran along", nil},
		{"15 23:09", "", "no-barometer", nil, "a radiosonde without barometer", nil},
		{"16 11:03", "", "twin-humidity", []Fault{{Name: "surface-pressure-typo", Size: 10}}, "surface observation read in a hurry", nil},
		{"16 17:41", "ridge", "twin-humidity", []Fault{{Name: "humidity-wet-after-cloud"}, {Name: "evaporative-cooling"}}, "thick cloud over the ridge", nil},
		{"17 23:10", "", "twin-humidity", nil, "no telemetry after release: launch record only", func(l *Launch) { l.NoData = true }},
		{"18 05:11", "", "twin-humidity", []Fault{{Name: "pressure-offset", Size: 1.8}}, "extra flight at night", nil},
		{"18 23:05", "ridge", "single-humidity", []Fault{{Name: "gps-loss", Size: 100}}, "satellites lost for a while", nil},
		{"19 11:06", "", "twin-humidity", []Fault{{Name: "temperature-spikes"}, {Name: "wake-spikes"}}, "string looked short", nil},
		{"20 11:08", "", "twin-humidity", []Fault{{Name: "early-burst", Size: 1500}}, "balloon burst low: aborted", nil},
		{"20 11:51", "", "twin-humidity", nil, "second try of the same slot", nil},
		{"21 23:03", "", "twin-humidity", []Fault{{Name: "foreign-radiosonde"}}, "somebody else on a near frequency", nil},
		{"22 17:38", "delta", "twin-humidity", []Fault{{Name: "truncated-file", Size: 0.72}}, "laptop switched off before the file was closed", nil},
		{"23 23:06", "", "twin-humidity", []Fault{{Name: "temporary-descent"}}, "balloon sank in cloud and rose again", nil},
		{"24 11:04", "", "twin-humidity", nil, "a quiet morning", nil},
		{"25 17:44", "dam", "single-humidity", []Fault{{Name: "local-time-as-UTC", Size: -3}}, "record filled in by the wristwatch", nil},
		{"25 23:07", "", "twin-humidity", []Fault{{Name: "garbled-rows"}, {Name: "repeated-times"}}, "last flight; receiver hoarse", nil},
	}
	rnd := newStream(seed, "campaign")
	var out []Launch
	for i, p := range plan {
		release, err := time.Parse("2006-01-02 15:04", "2026-01-"+p.when)
		if err != nil {
			return nil, err
		}
		sheet, _, err := sounding.ShippedSheet(p.sheet)
		if err != nil {
			return nil, err
		}
		s := Scenario{
			Climate: MidLatitudeSummer, Site: hut, Release: release.Add(time.Duration(rnd.uniform()*50) * time.Second), Jitter: 1,
			Sheet: sheet, Serial: fmt.Sprintf("L26%05d", 310+7*i+int(rnd.uniform()*6)),
			Balloon:  Balloon{Mass: 0.8, Payload: 0.45, NozzleLift: 1.35, Gas: "hydrogen", String: sheet.String, Parachute: 4.5},
			Interval: 1, Before: 240 + 60*float64(int(rnd.uniform()*6)), Zone: zone, Faults: p.faults, Operator: []string{"A", "B"}[i%2],
		}
		if p.at != "" {
			s.Site, s.Layout = vehicleStops[p.at], Vehicle
			s.Balloon = Balloon{Mass: 0.6, Payload: 0.4, NozzleLift: 1.15, Gas: "helium", String: sheet.String, Parachute: 4.5}
			// One number typed wrong once stays wrong for every flight of the vehicle.
			s.Faults = append([]Fault{{Name: "station-height-wrong", Size: 12}}, s.Faults...)
		}
		s.Name = fmt.Sprintf("%02d %s %s", i+1, s.Site.Name, release.Format("2 January 15:04"))
		l := Launch{
			Number: i + 1, Scenario: s, Seed: seed*1000 + uint64(i), Story: p.story,
			Name: fmt.Sprintf("%02d-%s-%s", i+1, strings.ToLower(s.Site.Name), release.Format("20060102-1504")),
		}
		if p.change != nil {
			p.change(&l)
		}
		out = append(out, l)
	}
	return out, nil
}

// Fly simulates the launch.
func (l *Launch) Fly() (*Flight, error) { return Simulate(l.Scenario, l.Seed) }

// Files returns the launch's files: what each receiver wrote, then the launch record.
// A launch without data has the record only.
func (l *Launch) Files() ([]File, error) {
	f, err := l.Fly()
	if err != nil {
		return nil, err
	}
	var out []File
	for i := range f.Receptions {
		if l.NoData {
			break
		}
		name, end := l.Name, ".txt"
		if f.Receptions[i].Layout == Vehicle {
			end = ".csv"
		}
		if i > 0 {
			name += fmt.Sprintf(".receiver-%d", i+1)
		}
		out = append(out, File{name + end, f.Text(i)})
	}
	f.Record.Notes = l.Story
	return append(out, File{l.Name + ".launch.toml", RecordTOML(f.Record)}), nil
}

// Diary returns the campaign's diary, a file that says what is what.
func Diary(plan []Launch) File {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s — simulated flights of an invented campaign.\nEvery file here was made by leadline's flight simulator; no such place and no such flights exist.\n\n", CampaignName)
	for i := range plan {
		l := &plan[i]
		fmt.Fprintf(&b, "%02d  %s UTC  %-10s %-16s %s\n", l.Number, l.Scenario.Release.UTC().Format("2006-01-02 15:04"), l.Scenario.Site.Name, l.Scenario.Sheet.Name, l.Story)
	}
	return File{"diary.md", b.Bytes()}
}
