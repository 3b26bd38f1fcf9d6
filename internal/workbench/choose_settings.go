package workbench

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

// shippedSettings stands for the settings that come with the program: the hash of a file
// that says nothing.
var shippedSettings = sha256Text(nil)

// chosenSettings returns the settings in force: those a person chose last, else those given
// with the flight. Settings that are not at hand are a finding and change nothing.
func chosenSettings(in Inputs, decisions []sounding.Decision) (*Settings, []sounding.Finding) {
	set := in.Settings
	var findings []sounding.Finding
	for _, d := range decisions {
		if d.Action != sounding.ActChooseSettings {
			continue
		}
		if d.Field == shippedSettings {
			set = DefaultSettings()
			continue
		}
		if chosen := in.SettingsFiles[d.Field]; chosen != nil {
			set = chosen
			continue
		}
		findings = append(findings, decisionNote(d, sounding.Questionable, fmt.Sprintf("decision %s could not be applied: the settings %s (SHA-256 %s) are not at hand", d.ID, d.Value, d.Field)))
	}
	if set == nil {
		set = DefaultSettings()
	}
	return set, findings
}

// settingsFilesOf reads the settings files that decisions name, by the SHA-256 of their text.
func settingsFilesOf(list []Blob) (map[string]*Settings, error) {
	if len(list) == 0 {
		return nil, nil
	}
	out := make(map[string]*Settings, len(list))
	for _, b := range list {
		s, err := ReadSettings(b.Name, b.Bytes)
		if err != nil {
			return nil, err
		}
		out[b.SHA256] = s
	}
	return out, nil
}

// SettingsChoice is a settings file a proposal chooses.
type SettingsChoice struct {
	Name string `json:"name"`           // of the file, or shipped
	Text string `json:"text,omitempty"` // TOML; "" for those that come with the program
}

// read returns the settings and the text they stand in.
func (c SettingsChoice) read() (*Settings, Blob, error) {
	if c.Text == "" {
		return DefaultSettings(), Blob{Name: SettingsShipped, SHA256: shippedSettings}, nil
	}
	s, err := ReadSettings(c.Name, []byte(c.Text))
	return s, blob(File{Name: c.Name, Bytes: []byte(c.Text)}), err
}

// SettingsInForce returns the file that says what a flight is processed with: the one a
// person chose last, else the one given with the flight. No bytes: the shipped settings.
// chosen is the decision that chose it, nil where none did.
func (f *StoredFlight) SettingsInForce() (file File, chosen *sounding.Decision) {
	file = File{f.Settings.Name, f.Settings.Bytes}
	for i := range f.Decisions {
		d := &f.Decisions[i]
		if d.Action != sounding.ActChooseSettings || d.Revoked != nil {
			continue
		}
		if d.Field == shippedSettings {
			file, chosen = File{}, d
			continue
		}
		for _, b := range f.SettingsFiles {
			if b.SHA256 == d.Field {
				file, chosen = File{b.Name, b.Bytes}, d
			}
		}
	}
	return file, chosen
}

// settingsKey tells settings files in force apart; the same for flights with equal ones.
func (f *StoredFlight) settingsKey() string {
	key := f.Settings.SHA256
	if key == "" {
		key = shippedSettings
	}
	for _, d := range inForce(f.Decisions) {
		if d.Action == sounding.ActChooseSettings {
			key = d.Field
		}
	}
	return key
}

// settingsName is what the settings file in force is called, shipped for none.
func (f *StoredFlight) settingsName() string {
	if file, _ := f.SettingsInForce(); len(file.Bytes) > 0 {
		return file.Name
	}
	return SettingsShipped
}

// largestChange says in words which variable changes most, measured in what its values may
// usually be off by; "" where no value changes.
func largestChange(list []VariableDifference) string {
	usual := map[sounding.Variable]float64{sounding.Pressure: 0.5, sounding.Temperature: 0.3, sounding.Humidity: 4, sounding.WindSpeed: 1, sounding.HeightMSL: 10}
	best, most := "", 0.0
	for _, v := range list {
		u := usual[v.Variable]
		if u == 0 || !v.Largest.Set() {
			continue
		}
		if size := math.Abs(v.Largest.Value()) / u; size > most {
			best, most = fmt.Sprintf("%s %+.3g %s", v.Variable, v.Largest.Value(), v.Unit), size
		}
	}
	return best
}
