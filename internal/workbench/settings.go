package workbench

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"sort"
	"strings"

	"leadline/internal/check"
	"leadline/internal/correct"
	"leadline/internal/events"
	"leadline/internal/indices"
	"leadline/internal/levels"
	"leadline/internal/profile"
	"leadline/internal/sounding"
	"leadline/internal/wind"
)

// Settings are all limits and choices of the path. Each package states its own
// defaults, with their sources, in its settings.toml; a user's file overrides single
// keys.
type Settings struct {
	Events  events.Settings  `toml:"events" json:"events"`
	Check   check.Settings   `toml:"check" json:"check"`
	Correct correct.Settings `toml:"correct" json:"correct"`
	Wind    wind.Settings    `toml:"wind" json:"wind"`
	Levels  levels.Settings  `toml:"levels" json:"levels"`
	Profile profile.Settings `toml:"profile" json:"profile"`
	Indices indices.Settings `toml:"indices" json:"indices"`
	Verdict VerdictSettings  `toml:"verdict" json:"verdict"`
}

// VerdictSettings says when a flight is accepted, looked at or refused.
type VerdictSettings struct {
	RefuseWithoutRelease bool    `toml:"refuse_without_release" json:"refuse_without_release"`
	RefuseTop            float64 `toml:"refuse_top_hpa" json:"refuse_top_hpa"`
	LookTop              float64 `toml:"look_top_hpa" json:"look_top_hpa"`
	RefuseMissing        float64 `toml:"refuse_missing_pct" json:"refuse_missing_pct"`
	LookMissing          float64 `toml:"look_missing_pct" json:"look_missing_pct"`
	LookMissingHumidity  float64 `toml:"look_missing_humidity_pct" json:"look_missing_humidity_pct"`
	HumidityCountsAbove  float64 `toml:"humidity_counts_above_k" json:"humidity_counts_above_k"`
	LookQuestionable     float64 `toml:"look_questionable_pct" json:"look_questionable_pct"`
	LookBad              float64 `toml:"look_bad_pct" json:"look_bad_pct"`
	LookRelease          float64 `toml:"look_release_s" json:"look_release_s"`
}

//go:embed settings.toml
var verdictDefaults string

// SettingsText is one section of the settings with the text of its defaults.
type SettingsText struct {
	Section string
	Text    string
}

// DefaultTexts returns the shipped settings, section by section, in the order of the path.
func DefaultTexts() []SettingsText {
	return []SettingsText{
		{"events", events.DefaultText}, {"check", check.DefaultText}, {"correct", correct.DefaultText},
		{"wind", wind.DefaultText}, {"levels", levels.DefaultText}, {"profile", profile.DefaultText}, {"indices", indices.DefaultText}, {"verdict", verdictDefaults},
	}
}

// SectionText is a section as it stands in a file of all of them: under its own name.
func SectionText(t SettingsText) string {
	var b strings.Builder
	fmt.Fprintf(&b, "[%s]\n", t.Section)
	for line := range strings.Lines(t.Text) {
		if strings.HasPrefix(line, "[") {
			line = "[" + t.Section + "." + line[1:]
		}
		b.WriteString(line)
	}
	return b.String()
}

// DefaultSettings returns the shipped settings.
func DefaultSettings() *Settings {
	s := &Settings{Events: *events.Default(), Check: *check.Default(), Correct: *correct.Default(), Wind: *wind.Default(), Levels: *levels.Default(), Profile: *profile.Default(), Indices: *indices.Default()}
	sounding.ShippedSettings("verdict settings", verdictDefaults, &s.Verdict)
	return s
}

// ReadSettings returns the shipped settings with the keys of a user's TOML text in
// place of the shipped ones. Unknown keys are an error that names line and column.
func ReadSettings(name string, text []byte) (*Settings, error) {
	s := DefaultSettings()
	if err := sounding.DecodeTOML(name, text, s); err != nil {
		return nil, err
	}
	if err := s.Events.Validate(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	for _, part := range []struct {
		section string
		limits  interface{ Validate() error }
	}{{"check", &s.Check}, {"correct", &s.Correct}, {"wind", &s.Wind}, {"levels", &s.Levels}, {"profile", &s.Profile}, {"indices", &s.Indices}, {"verdict", &s.Verdict}} {
		if err := part.limits.Validate(); err != nil {
			return nil, fmt.Errorf("%s: section %s: %w", name, part.section, err)
		}
	}
	return s, nil
}

// Validate returns an error that names the first limit that cannot be right.
func (v *VerdictSettings) Validate() error {
	for _, x := range []struct {
		key        string
		value, top float64
	}{
		{"refuse_top_hpa", v.RefuseTop, 1100}, {"look_top_hpa", v.LookTop, 1100}, {"refuse_missing_pct", v.RefuseMissing, 100},
		{"look_missing_pct", v.LookMissing, 100}, {"look_missing_humidity_pct", v.LookMissingHumidity, 100},
		{"humidity_counts_above_k", v.HumidityCountsAbove, 350}, {"look_questionable_pct", v.LookQuestionable, 100},
		{"look_bad_pct", v.LookBad, 100}, {"look_release_s", v.LookRelease, 86400},
	} {
		if !(x.value >= 0 && x.value <= x.top) {
			return fmt.Errorf("%s is %g: want 0 to %g", x.key, x.value, x.top)
		}
	}
	return nil
}

// key returns a text that is equal exactly where two settings are equal.
func (s *Settings) key() string {
	b, err := json.Marshal(s)
	if err != nil {
		return fmt.Sprintf("%+v", s)
	}
	return string(b)
}

// MethodSet names the version of all methods and settings together: the program's
// version and eight figures of a hash over settings and instrument sheet.
func MethodSet(s *Settings, sheet *sounding.InstrumentSheet) string {
	b, _ := json.Marshal(sheet)
	sum := sha256.Sum256([]byte(Version + "\n" + s.key() + "\n" + string(b)))
	return Version + "+" + hex.EncodeToString(sum[:4])
}

// Setting is one key with its value and where it came from.
type Setting struct {
	Key     string `json:"key"`     // "check.spike.window_s"
	Value   string `json:"value"`   // as the file writes it
	Unit    string `json:"unit"`    // "s"; "" where it has none
	Default string `json:"default"` // shipped; "" where none ships
	From    string `json:"from"`    // "shipped" or the name of the user's file
	Source  string `json:"source"`  // the comment beside the value: what it does and where it comes from
}

// Explain lists every setting in force with its origin. userName and userText are the
// user's file, empty where there is none.
func Explain(userName string, userText []byte) ([]Setting, error) {
	if _, err := ReadSettings(userName, userText); err != nil {
		return nil, err
	}
	user, comments := map[string]string{}, map[string]string{}
	for _, l := range tomlLines("", string(userText)) {
		user[l.key], comments[l.key] = l.value, l.comment
	}
	var out []Setting
	for _, section := range DefaultTexts() {
		for _, l := range tomlLines(section.Section, section.Text) {
			s := Setting{Key: l.key, Value: l.value, Unit: unitOf(l.key), Default: l.value, From: "shipped", Source: l.comment}
			if v, ok := user[l.key]; ok {
				s.Value, s.From = v, userName
				if said := comments[l.key]; said != "" && said != l.comment {
					s.Source = said + " (shipped: " + l.comment + ")"
				}
			}
			delete(user, l.key)
			out = append(out, s)
		}
	}
	rest := make([]string, 0, len(user))
	for k := range user {
		rest = append(rest, k)
	}
	sort.Strings(rest)
	for _, k := range rest {
		out = append(out, Setting{Key: k, Value: user[k], Unit: unitOf(k), From: userName, Source: comments[k]})
	}
	return out, nil
}

// ExplainSheet lists every value of an instrument sheet's text with its unit and what stands
// beside it. from is where the sheet comes from.
func ExplainSheet(from string, text []byte) []Setting {
	out := []Setting{}
	for _, l := range tomlLines("", string(text)) {
		out = append(out, Setting{Key: l.key, Value: l.value, Unit: unitOf(l.key), From: from, Source: l.comment})
	}
	return out
}

// units that a key's ending wears, the longest first.
var units = []struct{ ending, unit string }{
	{"_kg_m3", "kg/m³"}, {"_k_km", "K/km"}, {"_ln_s", "ln s"}, {"_m_s", "m/s"}, {"_hpa", "hPa"}, {"_pct", "%"}, {"_min", "min"}, {"_deg", "°"}, {"_km", "km"},
	{"_kg", "kg"}, {"_kt", "kt"}, {"_db", "dB"}, {"_ppmv", "ppmv"}, {"_fraction", "of 1"}, {"_share", "of 1"}, {"_s", "s"}, {"_m", "m"}, {"_k", "K"}, {"_c", "°C"},
}

// unitOf is the unit a key wears, "" for none.
func unitOf(key string) string {
	for _, u := range units {
		if strings.HasSuffix(key, u.ending) {
			return u.unit
		}
	}
	return ""
}

type tomlLine struct{ key, value, comment string }

// tomlLines reads the keys of the settings texts with the comment that stands beside
// or, where there is none beside, above them. It is a reader of our own files' layout
// (one key a line, arrays possibly over several lines), not of TOML in general: values
// are decoded by the TOML library, this only finds where they stand.
func tomlLines(prefix, text string) []tomlLine {
	var out []tomlLine
	table, above, open := prefix, "", -1
	for _, line := range strings.Split(text, "\n") {
		t := strings.TrimSpace(line)
		if open >= 0 {
			v, _ := splitComment(t)
			out[open].value += v
			if strings.HasSuffix(strings.TrimSpace(v), "]") && strings.Count(out[open].value, "[") == strings.Count(out[open].value, "]") {
				open = -1
			}
			continue
		}
		switch {
		case t == "":
			above = ""
		case strings.HasPrefix(t, "#"):
			above = strings.TrimSpace(above + " " + strings.TrimSpace(strings.TrimPrefix(t, "#")))
		case strings.HasPrefix(t, "["):
			head, _ := splitComment(t)
			name := strings.Trim(strings.TrimSpace(head), "[]")
			table = strings.TrimPrefix(prefix+"."+name, ".")
			above = ""
		default:
			k, v, ok := strings.Cut(t, "=")
			if !ok {
				continue
			}
			value, comment := splitComment(strings.TrimSpace(v))
			if comment == "" {
				comment = above
			}
			key := strings.TrimPrefix(table+"."+strings.Trim(strings.TrimSpace(k), `"`), ".")
			out = append(out, tomlLine{key, strings.TrimSpace(value), comment})
			if strings.Count(value, "[") != strings.Count(value, "]") {
				open = len(out) - 1
			}
		}
	}
	return out
}

// splitComment cuts a trailing comment off a line, leaving a # inside quotes alone.
func splitComment(s string) (value, comment string) {
	quote := rune(0)
	for i, r := range s {
		switch {
		case quote != 0:
			if r == quote {
				quote = 0
			}
		case r == '"' || r == '\'':
			quote = r
		case r == '#':
			return s[:i], strings.TrimSpace(s[i+1:])
		}
	}
	return s, ""
}
