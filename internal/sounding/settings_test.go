package sounding

import (
	"errors"
	"strings"
	"testing"
)

type limits struct {
	Low  float64 `toml:"low_m"`
	High float64 `toml:"high_m"`
}

func (l *limits) Validate() error {
	if !(l.Low < l.High) {
		return errors.New("low_m must be below high_m")
	}
	return nil
}

func TestReadSettings(t *testing.T) {
	shipped := func() *limits { return ShippedSettings("shipped", "low_m = 1\nhigh_m = 5\n", &limits{}) }
	for _, c := range []struct {
		text, err string
		want      limits
	}{
		{"", "", limits{1, 5}},
		{"high_m = 9", "", limits{1, 9}},
		{"low_m = 7", "mine.toml: low_m must be below high_m", limits{}},
		{"\nlow_m = 2\nlou_m = 3", "mine.toml: line 3, column 1: unknown key \"lou_m\": check its spelling", limits{}},
		{"low_m = \"x\"", "mine.toml: line 1, column 9", limits{}},
	} {
		got, err := ReadSettings("mine.toml", []byte(c.text), shipped())
		switch {
		case c.err == "" && (err != nil || *got != c.want):
			t.Errorf("%q: %+v, %v", c.text, got, err)
		case c.err != "" && (err == nil || !strings.HasPrefix(err.Error(), c.err) || got != nil):
			t.Errorf("%q: %+v, error %v, want %s", c.text, got, err, c.err)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("a shipped text that cannot be right was taken")
		}
	}()
	ShippedSettings("shipped", "low_m = 1", &limits{})
}
