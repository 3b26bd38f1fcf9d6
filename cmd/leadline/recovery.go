package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/follow"
	"leadline/internal/prelaunch"
	"leadline/internal/store"
	"leadline/internal/workbench"
)

func (p *program) recoveryCmd() *cobra.Command {
	c := &cobra.Command{
		Use:   "recovery",
		Short: "radiosondes that came down: last position, expected landing, label, log of found and returned",
		Long: `recovery keeps what became of radiosondes after their flight, in a file of lines beside the
logbook (LOGBOOK.recovery.jsonl). Entries are added and never changed; the last one of a serial
number holds. A finder's name is written only with their consent.

Landing places are estimates. Nothing is worth climbing, trespassing or wading for; in a power
line it belongs to the operator of the line.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(p.recoveryListCmd(), p.recoveryShowCmd(), p.recoveryAddCmd())
	return c
}

// recoveryLog is the recovery log that belongs to the logbook in force.
func (p *program) recoveryLog() *store.RecoveryLog { return store.RecoveryLogOf(p.logbookPath()) }

func (p *program) recoveryListCmd() *cobra.Command {
	var all bool
	c := &cobra.Command{
		Use:     "list",
		Short:   "what became of each radiosonde",
		Example: "  leadline recovery list\n  leadline recovery list --all --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			list, torn, err := p.recoveryLog().Recoveries()
			if err != nil {
				return err
			}
			if torn {
				fmt.Fprintf(p.err, "the last line of %s was being written when something went wrong and is left out\n", p.recoveryLog().Path())
			}
			if !all {
				list = prelaunch.LatestRecoveries(list)
			}
			if p.json {
				if list == nil {
					list = []prelaunch.Recovery{}
				}
				return p.printJSON(list)
			}
			if len(list) == 0 {
				fmt.Fprintln(p.out, "the recovery log is empty: leadline recovery add FLIGHT found puts the first entry into it")
				return nil
			}
			var rows [][]string
			for _, r := range list {
				place := "–"
				if r.Place != nil {
					place = fmt.Sprintf("%.5f %.5f", r.Place.Latitude, r.Place.Longitude)
				}
				rows = append(rows, []string{plain(r.Serial), plain(r.Flight), string(r.State), utcTime(r.At), place, plain(r.Who), plain(r.Note)})
			}
			table(p.out, []string{"serial", "flight", "state", "since UTC", "place", "written by", "note"}, rows)
			return nil
		},
	}
	c.Flags().BoolVar(&all, "all", false, "every entry, not only the last of each radiosonde")
	return c
}

func (p *program) recoveryShowCmd() *cobra.Command {
	var contact prelaunch.Contact
	c := &cobra.Command{
		Use:     "show FLIGHT",
		Short:   "last received position, expected landing with its spread, label for the finder",
		Example: "  leadline recovery show 3 --contact \"Reedwater hut\" --phone \"+00 000 000\"",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			_, o, err := p.flightOf(cmd, args[0])
			if err != nil {
				return err
			}
			last, landing := follow.Down(o.Final, nil)
			label := prelaunch.Label(contact, o.Record.Radiosonde.Serial, o.Final.Events.Release.UTC, o.Record.Site.Name)
			if p.json {
				return p.printJSON(map[string]any{"flight": o.Final.FlightName, "serial": o.Record.Radiosonde.Serial, "last_received": last, "landing": landing, "label": label})
			}
			fmt.Fprintf(p.out, "%s, radiosonde %s\n", plain(o.Final.FlightName), plain(o.Record.Radiosonde.Serial))
			if last.Known {
				fmt.Fprintf(p.out, "last received %s at %.5f %.5f, %s m\n", last.UTC, last.Place.Latitude, last.Place.Longitude, figure(last.Height, 0))
			} else {
				fmt.Fprintln(p.out, "no position was received")
			}
			switch {
			case landing.Happened:
				fmt.Fprintf(p.out, "came down at %.5f %.5f (%s)\n", landing.Place.Latitude, landing.Place.Longitude, plain(landing.Sentence))
			case landing.Known:
				fmt.Fprintf(p.out, "expected at %.5f %.5f about %s UTC, within %.1f × %.1f km (95 %%): %s\n", landing.Place.Latitude, landing.Place.Longitude,
					landing.UTC.UTC().Format("15:04"), landing.Major95.Value()/1000, landing.Minor95.Value()/1000, plain(landing.Sentence))
			default:
				fmt.Fprintf(p.out, "landing %s\n", plain(landing.Sentence))
			}
			fmt.Fprintf(p.out, "\n%s", label)
			return nil
		},
	}
	c.Flags().StringVar(&contact.Name, "contact", "", "whom a finder should call")
	c.Flags().StringVar(&contact.Phone, "phone", "", "telephone of the contact")
	c.Flags().StringVar(&contact.Mail, "mail", "", "mail address of the contact")
	c.Flags().StringVar(&contact.Text, "text", "", "what to add, in the finder's language")
	return c
}

func (p *program) recoveryAddCmd() *cobra.Command {
	var who, at, finder, note string
	var lat, lon float64
	c := &cobra.Command{
		Use:     "add FLIGHT STATE",
		Short:   "write down what became of a flight's radiosonde: down, found, returned or \"given up\"",
		Example: "  leadline recovery add 3 found --lat -38.71 --lon -70.02 --note \"in a field\" --who \"A. Reviewer\"\n  leadline recovery add 3 returned",
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			if who == "" {
				who = os.Getenv("LEADLINE_WHO")
			}
			if who == "" {
				return usageError{errors.New("who writes it? give --who or set LEADLINE_WHO")}
			}
			_, o, err := p.flightOf(cmd, args[0])
			if err != nil {
				return err
			}
			entry := prelaunch.Recovery{Serial: o.Record.Radiosonde.Serial, Flight: o.Final.FlightName, State: prelaunch.RecoveryState(args[1]),
				At: p.now().UTC().Truncate(time.Second), Who: who, Finder: finder, Note: note}
			if at != "" {
				if entry.At, err = time.Parse(time.RFC3339, at); err != nil {
					return usageError{fmt.Errorf("--at %q: want an instant such as 2031-06-07T09:00:00Z", at)}
				}
			}
			if cmd.Flags().Changed("lat") != cmd.Flags().Changed("lon") {
				return usageError{errors.New("a place needs --lat and --lon")}
			}
			if cmd.Flags().Changed("lat") {
				entry.Place = &prelaunch.Place{Latitude: lat, Longitude: lon}
			}
			if err := entry.Validate(); err != nil {
				return usageError{err}
			}
			if err := p.recoveryLog().AddRecovery(entry); err != nil {
				return err
			}
			if p.json {
				return p.printJSON(entry)
			}
			fmt.Fprintf(p.out, "%s of flight %s: %s\n", plain(orText(entry.Serial, "radiosonde")), plain(entry.Flight), entry.State)
			return nil
		},
	}
	flags := c.Flags()
	flags.StringVar(&who, "who", "", "who writes it (default: $LEADLINE_WHO)")
	flags.StringVar(&at, "at", "", "since when, RFC 3339 (default: now)")
	flags.StringVar(&finder, "finder", "", "who found it, only with their consent")
	flags.StringVar(&note, "note", "", "what else to know")
	flags.Float64Var(&lat, "lat", 0, "latitude of the place, degrees north")
	flags.Float64Var(&lon, "lon", 0, "longitude of the place, degrees east")
	return c
}

// flightOf opens a flight of the logbook by number, name or the beginning of its name.
func (p *program) flightOf(cmd *cobra.Command, word string) (id string, o *workbench.Outcome, err error) {
	bench, closeStore, err := p.open()
	if err != nil {
		return "", nil, err
	}
	defer closeStore()
	if id, err = bench.Resolve(cmd.Context(), word); err != nil {
		return "", nil, err
	}
	o, _, err = bench.Open(cmd.Context(), id)
	return id, o, err
}

func orText(s, other string) string {
	if strings.TrimSpace(s) == "" {
		return other
	}
	return s
}
