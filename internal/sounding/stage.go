package sounding

import "time"

// Source is one file or stream as it was received.
type Source struct {
	Name     string    `json:"name"`   // file name without its folder
	SHA256   string    `json:"sha256"` // of the bytes as received, before any unpacking
	Bytes    int64     `json:"bytes"`
	Recipe   string    `json:"recipe"` // name and SHA-256 of the recipe it was read by
	Rows     int       `json:"rows"`   // rows that were read
	Unread   int       `json:"unread"` // rows that could not be read
	FirstUTC time.Time `json:"first_utc"`
	LastUTC  time.Time `json:"last_utc"`
	Header   []Item    `json:"header,omitempty"` // metadata lines captured by the recipe
}

// Item is a named text captured from a source's preamble.
type Item struct {
	Name string `json:"name"`
	Text string `json:"text"`
	Line int    `json:"line"`
}

// Raw is what the sources say, in leadline's units and nothing else done to it.
type Raw struct {
	Epoch    time.Time // UTC instant of Time == 0
	Sources  []Source
	Columns            // Time in s since Epoch
	Findings []Finding // by ingest: rows that could not be read, order, overlaps
	// Reported tells which variables came from the source as a computed column (dew
	// point, wind from a maker's processing) rather than from a sensor; informative.
	Record *LaunchRecord // what the source itself says about the launch; nil where nothing
}

// Context is what every step after ingest is given besides the columns.
type Context struct {
	Epoch  time.Time // UTC instant of Time == 0 of the columns: the release, once it is known
	Events Events
	Record *LaunchRecord
	Sheet  *InstrumentSheet
	// Others are the rows of another radiosonde, in order: part of the source, kept and
	// bad, and no evidence about this flight.
	Others []Span
}

// UTC returns the instant of a time of the columns.
func (c *Context) UTC(t float64) time.Time {
	return c.Epoch.Add(time.Duration(t * float64(time.Second)))
}

// Checked is a flight whose raw values carry flags and findings. Time is s since release.
type Checked struct {
	Context
	Sources []Source
	Columns
	Findings []Finding
	Runs     []CheckRun
}

// Corrected is a flight whose values have been corrected; every change is a step.
type Corrected struct {
	Context
	Sources []Source
	Columns
	Before   *Columns // the checked columns: raw values with their flags
	Findings []Finding
	Runs     []CheckRun
	Steps    []Step
}

// Final is a flight whose corrected values have been checked again: the only stage
// levels, products and exports accept.
type Final struct {
	Context
	Sources []Source
	Columns
	Before     *Columns // the checked columns: raw values with their flags
	Findings   []Finding
	Runs       []CheckRun
	Steps      []Step
	Decisions  []Decision
	Verdict    Verdict
	Summary    []string // two or three plain sentences
	MethodSet  string   // version of all methods and settings together
	FlightName string   // site and release, for file names and headings
	SignOff    SignOff  // set by the logbook; no part of what is computed
	Origin     ProfileOrigin
}

// StepKind says what a step does to a variable.
type StepKind string

// The kinds of step.
const (
	StepDerive  StepKind = "derive"  // computed from other variables
	StepChoose  StepKind = "choose"  // taken from one of several sensors
	StepCorrect StepKind = "correct" // an error of the instrument removed
	StepFilter  StepKind = "filter"  // smoothed with a stated resolution
	StepBridge  StepKind = "bridge"  // a short gap filled
	StepRule    StepKind = "decide"  // by a person's decision
)

// Step is one change of one variable: what it was computed by and what came out.
type Step struct {
	Method       string        `json:"method"` // name of its page in docs/methods
	Kind         StepKind      `json:"kind"`
	Variable     Variable      `json:"variable"`
	Values       []float64     `json:"-"` // after the step, every row
	Independent  []float64     `json:"-"` // standard uncertainty after the step, k = 1; nil where not known
	Common       []float64     `json:"-"`
	Coefficients []Coefficient `json:"coefficients,omitempty"`
	Resolution   []float64     `json:"-"`    // effective resolution after the step, s; nil where unchanged
	Note         string        `json:"note"` // one plain sentence: what was done and how much it changed
}

// Coefficient is a number a step used, with its origin.
type Coefficient struct {
	Name   string `json:"name"`
	Value  Number `json:"value"`
	Unit   string `json:"unit"`
	Source string `json:"source"` // sheet, settings, fitted, …
}

// Verdict words.
const (
	Accept = "accept"
	Look   = "look"
	Refuse = "refuse"
)

// Verdict is the flight in one word and one line, with the reasons that led there.
type Verdict struct {
	Word    string   `json:"word"`
	Line    string   `json:"line"`
	Reasons []string `json:"reasons"`
}
