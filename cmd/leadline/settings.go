package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"leadline/internal/prelaunch"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func (p *program) settingsCmd() *cobra.Command {
	var file, sheet string
	var toml bool
	c := &cobra.Command{
		Use:   "settings [PART]",
		Short: "the settings in force, with where each came from",
		Long: `settings prints every limit and choice of the path with its value, whether it is shipped or
yours, and the source that stands beside the default. PART narrows it: "check.spike" or "wind".
"prelaunch" prints those of the launch desk, which have a file of their own (prepare --settings).
--toml prints the shipped text of one section, to copy keys from into a file of your own.`,
		Example: `  leadline settings
  leadline settings check.gross --settings mine.toml
  leadline settings levels --toml
  leadline settings --sheet twin-humidity`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			part := ""
			if len(args) == 1 {
				part = args[0]
			}
			if part == "prelaunch" && sheet == "" {
				return p.deskSettings(file)
			}
			if sheet != "" {
				f, err := fileOrShipped(sheet, func(name string) ([]byte, error) { _, text, err := sounding.ShippedSheet(name); return text, err })
				if err != nil {
					return err
				}
				s, err := sounding.ReadSheet(f.Name, f.Bytes)
				if err != nil {
					return err
				}
				if p.json {
					return p.printJSON(s)
				}
				_, err = p.out.Write(f.Bytes)
				return err
			}
			var user workbench.File
			if file != "" {
				var err error
				if user, err = readFile(file); err != nil {
					return err
				}
			}
			if toml {
				for _, s := range workbench.DefaultTexts() {
					if part == "" || s.Section == part {
						fmt.Fprintf(p.out, "# section %s: keys of your own file stand under [%s], tables under [%s.NAME]\n%s\n", s.Section, s.Section, s.Section, s.Text)
					}
				}
				return nil
			}
			list, err := workbench.Explain(user.Name, user.Bytes)
			if err != nil {
				return err
			}
			kept := []workbench.Setting{}
			for _, s := range list {
				if part == "" || s.Key == part || strings.HasPrefix(s.Key, part+".") {
					kept = append(kept, s)
				}
			}
			if len(kept) == 0 {
				return fmt.Errorf("no setting is called %q: leadline settings lists all", part)
			}
			if p.json {
				return p.printJSON(kept)
			}
			var rows [][]string
			for _, s := range kept {
				from := s.From
				if from != "shipped" {
					from += " (shipped " + s.Default + ")"
				}
				rows = append(rows, []string{s.Key, s.Value, from, plain(s.Source)})
			}
			table(p.out, []string{"setting", "value", "from", "source"}, rows)
			fmt.Fprintf(p.out, "\ninstrument sheets that ship: %s\n", strings.Join(sounding.ShippedSheets(), ", "))
			return nil
		},
	}
	c.Flags().StringVar(&file, "settings", "", "TOML file with your own settings")
	c.Flags().StringVar(&sheet, "sheet", "", "print an instrument sheet instead: a file or the name of a shipped one")
	c.Flags().BoolVar(&toml, "toml", false, "print the shipped text with its comments")
	return c
}

// deskSettings prints the settings of the launch desk, shipped or of a file.
func (p *program) deskSettings(file string) error {
	text, set := []byte(prelaunch.DefaultText), prelaunch.Default()
	if file != "" {
		f, err := readFile(file)
		if err != nil {
			return err
		}
		if set, err = prelaunch.ReadSettings(f.Name, f.Bytes); err != nil {
			return err
		}
		text = f.Bytes
	}
	if p.json {
		return p.printJSON(set)
	}
	_, err := p.out.Write(text) // TOML holds no control characters
	return err
}
