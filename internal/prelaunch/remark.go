package prelaunch

import (
	"fmt"

	"leadline/internal/sounding"
)

// Level says how much a remark weighs.
type Level uint8

// The levels in rising order.
const (
	Note    Level = iota // worth knowing
	Warning              // look before going on
	Stop                 // do not release before this is settled
)

var levelWords = [...]string{"note", "warning", "stop"}

func (l Level) String() string { return levelWords[min(int(l), len(levelWords)-1)] }

// MarshalText writes the level's word.
func (l Level) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads the level's word.
func (l *Level) UnmarshalText(b []byte) error {
	for i, w := range levelWords {
		if w == string(b) {
			*l = Level(i)
			return nil
		}
	}
	return fmt.Errorf("%q is no level of a remark: want note, warning or stop", b)
}

// Remark is one plain sentence about a part of the preparation.
type Remark struct {
	About string `json:"about"` // "slot", "fill", "gas store", "drift", "ground check", "surface", "list", "airspace"
	Level Level  `json:"level"`
	Text  string `json:"text"`
}

// remarks collects them under one heading.
type remarks struct {
	about string
	list  []Remark
}

func (r *remarks) say(level Level, format string, args ...any) {
	r.list = append(r.list, Remark{r.about, level, fmt.Sprintf(format, args...)})
}

// worst returns the highest level, Note for none.
func worst(list []Remark) Level {
	w := Note
	for _, r := range list {
		w = max(w, r.Level)
	}
	return w
}

// Value is a number with its standard uncertainty (k = 1) in the same unit; NotSet where
// either is not known.
type Value struct {
	Value sounding.Number `json:"value"`
	U     sounding.Number `json:"u"`
}
