package workbench

import (
	"leadline/internal/ingest"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// guessed returns a note that a source was read by a guessed recipe, and one for each
// thing the guess is unsure of.
func guessed(doubts []ingest.Doubt) []sounding.Finding {
	note := func(sentence string) sounding.Finding {
		return sounding.Finding{ID: "sources.none.recipe", Check: quality.Sources, Severity: sounding.Note, Stage: "ingest", Field: "recipe",
			FirstTime: sounding.NotSet, LastTime: sounding.NotSet, Bottom: sounding.NotSet, Top: sounding.NotSet,
			Measured: sounding.NotSet, Limit: sounding.NotSet, Sentence: sentence}
	}
	out := []sounding.Finding{note("no recipe was given: the source was read by one guessed from its head; leadline recipe shows it")}
	for _, d := range doubts {
		out = append(out, note("the guessed recipe is unsure: "+d.String()))
	}
	return out
}
