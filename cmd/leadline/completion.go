package main

import (
	"os"

	"github.com/spf13/cobra"

	"leadline/internal/sounding"
)

// completeFlights gives verbs that take a flight first, or flights only, the names of the
// logbook's flights to complete. A logbook that is not there is not made by completing.
func (p *program) completeFlights(c *cobra.Command, then ...string) *cobra.Command {
	c.ValidArgsFunction = func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		if len(args) == 1 && len(then) > 0 {
			return then, cobra.ShellCompDirectiveNoFileComp
		}
		if len(args) > 0 && c.Name() != "export" {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		if _, err := os.Stat(p.logbookPath()); err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		bench, closeStore, err := p.open()
		if err != nil {
			return nil, cobra.ShellCompDirectiveError
		}
		defer closeStore()
		rows, err := bench.Rows(cmd.Context())
		if err != nil {
			return nil, cobra.ShellCompDirectiveError
		}
		var out []string
		for _, r := range rows {
			out = append(out, cobra.CompletionWithDesc(plain(r.Name), plain(r.Verdict+", "+r.State)))
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	}
	return c
}

// rulingWords are what decide takes after the flight.
func rulingWords() []string {
	var out []string
	for _, a := range sounding.Actions {
		out = append(out, string(a))
	}
	return append(out, "revoke", "undo", "redo", "suggestion")
}

// completeWords gives a flag that takes one of a few words these to complete.
func completeWords(c *cobra.Command, flag string, words ...string) {
	_ = c.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
}
