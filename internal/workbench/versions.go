package workbench

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"leadline/internal/comparison"
	"leadline/internal/sounding"
)

// Stages a version of a flight can be looked at in.
const (
	StageFinal = "final" // after every step
	StageRaw   = "raw"   // as received
)

// Settings a version of a flight can be computed with, besides a file.
const (
	SettingsOwn     = ""        // those of the flight
	SettingsShipped = "shipped" // those that come with the program
	SettingsGiven   = "given"   // those of a file given along
)

// FlightVersion names one flight as it stands, or as it would stand with fewer decisions or
// other settings. Nothing of it is stored.
type FlightVersion struct {
	Flight       string `json:"flight"`                   // ID
	Stage        string `json:"stage,omitempty"`          // final or raw; "" is final
	Without      string `json:"without,omitempty"`        // decision that is left out
	Revision     *int   `json:"as_of_revision,omitempty"` // decisions up to this revision only
	Settings     string `json:"settings,omitempty"`       // "", shipped or given
	SettingsName string `json:"settings_name,omitempty"`  // with given
	SettingsText string `json:"settings_text,omitempty"`
}

// ParseVersion reads a version as a user writes it: the flight's number or name, and after
// it any of @raw, @final, @without:d2, @revision:4, @shipped, @settings:FILE. readFile
// returns a settings file. The flight is not resolved.
func ParseVersion(word string, readFile func(path string) (File, error)) (FlightVersion, error) {
	parts := strings.Split(word, "@")
	v := FlightVersion{Flight: parts[0]}
	for _, p := range parts[1:] {
		key, value, _ := strings.Cut(p, ":")
		switch key {
		case StageRaw, StageFinal:
			v.Stage = key
		case "without":
			v.Without = value
		case "revision":
			n, err := strconv.Atoi(value)
			if err != nil || n < 0 {
				return v, fmt.Errorf("%q: want a revision such as @revision:4", p)
			}
			v.Revision = &n
		case "shipped":
			v.Settings = SettingsShipped
		case "settings":
			f, err := readFile(value)
			if err != nil {
				return v, err
			}
			v.Settings, v.SettingsName, v.SettingsText = SettingsGiven, f.Name, string(f.Bytes)
		default:
			return v, fmt.Errorf("%q is no version: want @raw, @final, @without:DECISION, @revision:N, @shipped or @settings:FILE after the flight", p)
		}
	}
	return v, v.Validate()
}

// Validate returns an error that says what is wrong with the version.
func (v *FlightVersion) Validate() error {
	switch v.Stage {
	case "", StageFinal, StageRaw:
	default:
		return fmt.Errorf("%q is no stage to compare: want final or raw", v.Stage)
	}
	switch v.Settings {
	case SettingsOwn, SettingsShipped:
		if v.SettingsText != "" {
			return fmt.Errorf("a settings file came along, but settings are %q: want %q", v.Settings, SettingsGiven)
		}
	case SettingsGiven:
		if v.SettingsName == "" {
			return fmt.Errorf("settings that are given need the name of their file")
		}
	default:
		return fmt.Errorf("%q are no settings: want shipped, given, or nothing for the flight's own", v.Settings)
	}
	if v.Revision != nil && *v.Revision < 0 {
		return fmt.Errorf("there is no revision %d", *v.Revision)
	}
	if v.Flight == "" {
		return fmt.Errorf("a version needs a flight")
	}
	return nil
}

// stored tells whether the version is the flight as it stands.
func (v *FlightVersion) stored() bool {
	return v.Without == "" && v.Revision == nil && v.Settings == SettingsOwn
}

// Words says what is particular about a version, "" where nothing is.
func (v *FlightVersion) Words() string {
	var parts []string
	if v.Stage == StageRaw {
		parts = append(parts, "as received")
	}
	if v.Without != "" {
		parts = append(parts, "without decision "+v.Without)
	}
	if v.Revision != nil {
		parts = append(parts, fmt.Sprintf("as of revision %d", *v.Revision))
	}
	switch v.Settings {
	case SettingsShipped:
		parts = append(parts, "shipped settings")
	case SettingsGiven:
		parts = append(parts, "settings "+v.SettingsName)
	}
	return strings.Join(parts, ", ")
}

// OpenVersion returns a flight after the path in one of its versions, and its revision.
func (b *Bench) OpenVersion(ctx context.Context, v FlightVersion) (*Outcome, int, error) {
	if err := v.Validate(); err != nil {
		return nil, 0, err
	}
	o, revision, err := b.Open(ctx, v.Flight)
	if err != nil || v.stored() {
		return o, revision, err
	}
	in := o.Inputs
	if v.Revision != nil {
		if in.Decisions, err = decisionsAsOf(o, *v.Revision, revision); err != nil {
			return nil, 0, err
		}
	}
	if v.Without != "" {
		if in.Decisions, err = without(in.Decisions, v.Without); err != nil {
			return nil, 0, &RefusedError{fmt.Sprintf("flight %s: %v", v.Flight, err)}
		}
	}
	switch v.Settings {
	case SettingsShipped:
		in = withSettings(in, DefaultSettings())
	case SettingsGiven:
		set, err := settingsOf(File{v.SettingsName, []byte(v.SettingsText)})
		if err != nil {
			return nil, 0, &RefusedError{err.Error()}
		}
		in = withSettings(in, set)
	}
	if o, err = Run(in); err != nil {
		return nil, 0, fmt.Errorf("flight %s: %w", v.Flight, err)
	}
	return o, revision, nil
}

// withSettings returns inputs that are processed with settings whatever else was chosen.
func withSettings(in Inputs, set *Settings) Inputs {
	in.Settings = set
	in.Decisions = slices.DeleteFunc(slices.Clone(in.Decisions), func(d sounding.Decision) bool { return d.Action == sounding.ActChooseSettings })
	return in
}

// without returns the decisions but for one, which must be in force.
func without(list []sounding.Decision, id string) ([]sounding.Decision, error) {
	i := slices.IndexFunc(list, func(d sounding.Decision) bool { return d.ID == id })
	switch {
	case i < 0:
		return nil, fmt.Errorf("it has no decision %s", id)
	case list[i].Revoked != nil:
		return nil, fmt.Errorf("decision %s has been taken back: the flight is without it already", id)
	}
	return slices.Delete(slices.Clone(list), i, i+1), nil
}

// side makes an outcome ready for a comparison.
func (v *FlightVersion) side(o *Outcome) comparison.Side {
	s := comparison.Side{Values: &o.Final.Columns, Place: &o.Final.Columns, Ascent: o.Final.Events.Ascent()}
	if v.Stage == StageRaw {
		s.Values, s.Raw = o.Final.Before, true
	}
	return s
}

// ComparedVersion is one side of a comparison.
type ComparedVersion struct {
	Version   FlightVersion `json:"version"`
	Name      string        `json:"name"`
	Words     string        `json:"words"` // what is particular about the version, "" where nothing is
	Revision  int           `json:"revision"`
	MethodSet string        `json:"method_set"`
	Verdict   string        `json:"verdict"`
	Line      string        `json:"line"`
}

// VersionComparison is one version laid over another.
type VersionComparison struct {
	A      ComparedVersion    `json:"a"`
	B      ComparedVersion    `json:"b"`
	Result *comparison.Result `json:"result"`
	// Effect is what B changes against A, where both are versions of one flight.
	Effect *Difference `json:"effect,omitempty"`
}

// CompareVersions computes two versions and takes the differences B minus A.
func (b *Bench) CompareVersions(ctx context.Context, va, vb FlightVersion, options comparison.Options) (VersionComparison, error) {
	var out VersionComparison
	oa, ra, err := b.OpenVersion(ctx, va)
	if err != nil {
		return out, err
	}
	ob, rb, err := b.OpenVersion(ctx, vb)
	if err != nil {
		return out, err
	}
	options.SameRows = va.Flight == vb.Flight
	if out.Result, err = comparison.Compare(va.side(oa), vb.side(ob), options); err != nil {
		return out, &RefusedError{err.Error()}
	}
	out.A, out.B = comparedVersion(va, oa, ra), comparedVersion(vb, ob, rb)
	if options.SameRows {
		d := Compare(oa, ob)
		out.Effect = &d
	}
	return out, nil
}

func comparedVersion(v FlightVersion, o *Outcome, revision int) ComparedVersion {
	v.SettingsText = "" // it was sent to us; its name says enough
	return ComparedVersion{Version: v, Name: o.Final.FlightName, Words: v.Words(), Revision: revision, MethodSet: o.Final.MethodSet,
		Verdict: o.Final.Verdict.Word, Line: o.Final.Verdict.Line}
}

// decisionsAsOf returns the decisions as they stood at an earlier revision.
func decisionsAsOf(o *Outcome, revision, now int) ([]sounding.Decision, error) {
	if revision > now {
		return nil, &RefusedError{fmt.Sprintf("flight %s stands at revision %d: there is no revision %d yet", o.Final.FlightName, now, revision)}
	}
	var until []Ruling
	for _, r := range o.History {
		if r.Revision <= revision {
			until = append(until, r)
		}
	}
	return Replay(until).Decisions, nil
}
