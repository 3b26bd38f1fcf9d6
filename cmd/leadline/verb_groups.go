package main

import "github.com/spf13/cobra"

// verbGroups are the headings of the help of the whole, in the order of the work.
var verbGroups = []struct {
	title string
	verbs []string
}{
	{"Begin", []string{"demo", "serve", "recipe", "settings"}},
	{"Before and during a flight", []string{"prepare", "follow", "recovery"}},
	{"From source bytes to a verdict", []string{"check", "add", "list", "show", "trail"}},
	{"Review", []string{"decide", "group", "sign", "reopen", "history", "compare", "reprocess"}},
	{"Numbers, files and messages", []string{"levels", "indices", "figure", "report", "export", "message"}},
	{"Simulated flights", []string{"simulate", "examine"}},
	{"About the program", []string{"help", "completion"}},
}

// Verbs stand in the help in the order they are added in, not by letter.
func init() { cobra.EnableCommandSorting = false }

// inGroups puts every verb under its heading; cobra's own two verbs are made to speak as the
// others do.
func inGroups(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd("completion")
	byName := map[string]*cobra.Command{}
	for _, c := range root.Commands() {
		byName[c.Name()] = c
	}
	for _, g := range verbGroups {
		root.AddGroup(&cobra.Group{ID: g.title, Title: g.title + ":"})
		for _, verb := range g.verbs {
			if c := byName[verb]; c != nil {
				c.GroupID = g.title
				root.RemoveCommand(c) // and back, so that verbs stand in this order
				root.AddCommand(c)
			}
		}
	}
	root.SetHelpCommandGroupID(verbGroups[len(verbGroups)-1].title)
	root.SetCompletionCommandGroupID(verbGroups[len(verbGroups)-1].title)
	if c := byName["help"]; c != nil {
		c.Short = "help on a verb"
	}
	if c := byName["completion"]; c != nil {
		c.Short = "print a script that completes verbs, options and flights in your shell"
		c.Args = cobra.NoArgs
		c.RunE = func(c *cobra.Command, _ []string) error { return c.Help() }
	}
}
