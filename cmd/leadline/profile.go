package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// addProfile adds the flag that chooses a profile of the flight.
func addProfile(c *cobra.Command, along *string) {
	words := make([]string, 0, 4)
	for _, k := range sounding.ProfileKinds() {
		words = append(words, string(k))
	}
	c.Flags().StringVar(along, "profile", string(sounding.AscentProfile), "profile of the flight: "+strings.Join(words, ", "))
}

// alongProfile returns the outcome along the profile of that word.
func alongProfile(o *workbench.Outcome, word string) (*workbench.Outcome, error) {
	kind, err := sounding.ParseProfileKind(word)
	if err != nil {
		return nil, usageError{fmt.Errorf("--profile: %w", err)}
	}
	out, err := o.Profile(kind)
	if err != nil {
		return nil, fmt.Errorf("%s: no %s profile: %w", o.Final.FlightName, kind, err)
	}
	return out, nil
}

// printProfile says which profile of the flight the numbers below are of.
func (p *program) printProfile(o *workbench.Outcome) {
	text := string(o.Final.ProfileKind())
	if note := o.Final.Origin.Note; note != "" {
		text += ": " + note
	}
	fmt.Fprintln(p.out, wrap("profile "+plain(text), 96, "  "))
}
