package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/ingest"
)

// headSize is how much of a file a recipe is guessed from.
const headSize = 256 << 10

func (p *program) recipeCmd() *cobra.Command {
	var list bool
	c := &cobra.Command{
		Use:   "recipe FILE",
		Short: "guess how to read a source and print the recipe, with what it is unsure of",
		Long: `recipe looks at the head of a file and prints a recipe in TOML: columns, units, missing
tokens, time. What it is unsure of stands in comments marked "unsure"; edit them and give the
file to check or add with --recipe. docs/recipes.md explains every key.

A name of a shipped recipe instead of a file prints that recipe.`,
		Example: `  leadline recipe flight.txt > my-receiver.toml
  leadline recipe --list
  leadline recipe cf`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if list {
				var rows [][]string
				type entry struct {
					Name   string `json:"name"`
					Format string `json:"format"`
					Title  string `json:"title"`
				}
				var entries []entry
				for _, name := range ingest.ShippedRecipes() {
					r, _, err := ingest.ShippedRecipe(name)
					if err != nil {
						return err
					}
					entries = append(entries, entry{name, r.Format, r.Title})
					rows = append(rows, []string{name, r.Format, r.Title})
				}
				if p.json {
					return p.printJSON(entries)
				}
				table(p.out, []string{"recipe", "format", "reads"}, rows)
				return nil
			}
			if len(args) != 1 {
				return usageError{fmt.Errorf("name a file, or --list")}
			}
			file, err := os.Open(args[0])
			if err != nil {
				if _, text, shippedErr := ingest.ShippedRecipe(args[0]); shippedErr == nil && !strings.ContainsAny(args[0], `/\.`) {
					if p.json {
						return p.printJSON(map[string]any{"toml": string(text), "doubts": []string{}})
					}
					_, err := p.out.Write(text)
					return err
				}
				return err
			}
			defer file.Close()
			head, err := io.ReadAll(io.LimitReader(file, headSize))
			if err != nil {
				return err
			}
			_, doubts, text, err := ingest.Guess(head, filepath.Base(args[0]))
			if err != nil {
				return err
			}
			if p.json {
				return p.printJSON(map[string]any{"toml": text, "doubts": doubts})
			}
			fmt.Fprint(p.out, text)
			for _, d := range doubts {
				fmt.Fprintf(p.err, "unsure: %s\n", d)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&list, "list", false, "list the recipes that ship")
	return c
}
