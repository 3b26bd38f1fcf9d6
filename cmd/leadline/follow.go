package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"leadline/internal/api"
	"leadline/internal/export"
	"leadline/internal/follow"
	"leadline/internal/ingest"
	"leadline/internal/message"
	"leadline/internal/prelaunch"
	"leadline/internal/sounding"
	"leadline/internal/temp"
	"leadline/internal/workbench"
)

// followFlags are the flags of follow besides those of every verb that reads sources.
type followFlags struct {
	in                         inputFlags
	replay, from, journal      string
	limits, wind               string
	messages, heading, codeAs  string
	also                       []string
	serve, forget, printLimits bool
	listen, token              string
}

func (p *program) followCmd() *cobra.Command {
	var f followFlags
	c := &cobra.Command{
		Use:   "follow FILE|-|tcp://HOST:PORT|udp://HOST:PORT",
		Short: "watch a flight while it flies: check as data arrive, warn, keep every byte",
		Long: `follow reads a file that grows, standard input, a stream of lines on TCP, or lines sent to a UDP
port of this machine, and checks the flight as it comes with the code that checks the finished
file. Everything received is kept in a journal first; after an interruption the same command goes
on where the journal ends. When the flight is over its bytes go into the logbook.

Alarms: no data, no satellites, slow ascent, early burst, wrong time. Limits of your own: --limits.
Expected burst and landing need the balloon's items in the launch record; they are estimates, and
the airspace authority's word comes before them.`,
		Example: `  leadline follow received.txt --record launch.toml
  leadline follow tcp://192.168.1.20:4001 --recipe receiver.toml --record launch.toml --serve
  leadline follow udp://0.0.0.0:5555 --from 192.168.1.20 --recipe receiver.toml --message outbox
  leadline follow tcp://192.168.1.20:4001 --also tcp://192.168.1.21:4001 --recipe receiver.toml
  leadline follow old-flight.txt --replay 100x`,
		Args: func(cmd *cobra.Command, args []string) error {
			if f.printLimits {
				return cobra.NoArgs(cmd, args)
			}
			return cobra.ExactArgs(1)(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.printLimits {
				_, err := io.WriteString(p.out, follow.DefaultText)
				return err
			}
			return p.follow(cmd.Context(), args[0], &f)
		},
	}
	f.in.add(c)
	_ = c.Flags().MarkHidden("join")
	flags := c.Flags()
	flags.StringVar(&f.replay, "replay", "", "send a finished file's lines again, so many times as fast as they came: 100x")
	flags.StringArrayVar(&f.also, "also", nil, "a further `receiver` of the same flight, named as the first; may be given several times")
	flags.StringVar(&f.from, "from", "", "for udp: the only address lines are taken from; needed where other machines can reach the port")
	flags.StringVar(&f.journal, "journal", "", "folder of the journal (default: one for this source in leadline.live beside the logbook)")
	flags.StringVar(&f.limits, "limits", "", "TOML file with limits of alarms and of the flight's end")
	flags.BoolVar(&f.printLimits, "print-limits", false, "print the shipped limits, to copy keys from")
	flags.StringVar(&f.wind, "wind", "", "wind profile for the heights the flight has not reached: text as prepare reads it (default: the site's last flight in the logbook)")
	flags.StringVar(&f.messages, "message", "", "folder to write the first message to, up to 100 hPa, while the balloon climbs on")
	flags.StringVar(&f.codeAs, "template", string(message.BUFR309057), "what to write it as: a BUFR template, temp or pilot, as in message encode")
	flags.StringVar(&f.heading, "heading", "", "designator and centre of its bulletin heading, such as \"IUSX01 LAKE\"")
	flags.BoolVar(&f.forget, "no-logbook", false, "leave the flight in the journal when it is over")
	flags.BoolVar(&f.serve, "serve", false, "show it in a browser as well")
	flags.StringVar(&f.listen, "listen", api.DefaultAddress, "address and port of --serve")
	flags.StringVar(&f.token, "token", "", "word that a browser elsewhere must give")
	return c
}

func (p *program) follow(ctx context.Context, word string, f *followFlags) error {
	o, err := p.followOptions(word, f)
	if err != nil {
		return err
	}
	bench, closeStore, err := p.openOrMake()
	if err != nil {
		return err
	}
	defer closeStore()
	if !f.forget {
		o.Add = bench.Add
	}
	o.Earlier = func(site string, before time.Time) *follow.Earlier {
		e, err := follow.EarlierWind(ctx, bench, site, before)
		if err != nil {
			fmt.Fprintf(p.err, "the wind of the last flight of %s is not used: %v\n", plain(site), err)
		}
		return e
	}
	if err := follow.SetAside(o.Journal); err != nil {
		return err
	}
	view := p.newFollowView()
	o.Tell = view.tell
	session, err := follow.Open(o)
	if err != nil {
		return err
	}
	serving := make(chan error, 1)
	if f.serve {
		listener, err := api.Listen(f.listen, f.token)
		if err != nil {
			return errors.Join(err, session.Close())
		}
		view.note(fmt.Sprintf("open http://%s/#/live in a browser; Ctrl-C ends", listener.Addr()))
		go func() {
			serving <- api.Serve(ctx, listener, api.New(bench, api.Options{Token: f.token, Live: session, Recovery: p.recoveryLog()}))
		}()
	}
	err = session.Run(ctx)
	ended := session.State().Ended
	if f.serve && err == nil { // the screen stays until Ctrl-C
		err = <-serving
	}
	if e := session.Close(); e != nil && !errors.Is(err, context.Canceled) {
		err = errors.Join(err, e)
	}
	view.close()
	switch {
	case ended == nil && ctx.Err() != nil:
		view.note(fmt.Sprintf("stopped; everything received is kept in %s, and the same command goes on there", o.Journal))
		return nil
	case err != nil:
		return err
	case f.forget: // as it was asked for
		fmt.Fprintf(p.err, "left out of the logbook as asked; what was received is kept in %s\n", o.Journal)
		return nil
	case ended.Error != "":
		return fmt.Errorf("the flight is not in the logbook: %s; what was received is kept in %s", ended.Error, o.Journal)
	}
	for _, flight := range ended.Flights {
		if !strings.HasPrefix(flight.Line, sounding.Accept+":") {
			return notAccepted{}
		}
	}
	return nil
}

// followOptions reads the files behind the flags.
func (p *program) followOptions(word string, f *followFlags) (follow.Options, error) {
	var o follow.Options
	if f.in.record == "" && word != "-" && !strings.Contains(word, "://") {
		for _, ending := range []string{".launch.toml", ".launch.json"} {
			if _, err := os.Stat(stem(word) + ending); err == nil {
				f.in.record = stem(word) + ending
				break
			}
		}
	}
	var err error
	if o.Request, err = f.in.request(); err != nil {
		return o, err
	}
	if f.limits != "" {
		file, err := readFile(f.limits)
		if err != nil {
			return o, err
		}
		if o.Settings, err = follow.ReadSettings(file.Name, file.Bytes); err != nil {
			return o, err
		}
	}
	if f.wind != "" {
		file, err := readFile(f.wind)
		if err != nil {
			return o, err
		}
		latitude := 45.0
		if len(o.Request.Record.Bytes) > 0 {
			record, _, err := ingest.ReadRecord(o.Request.Record.Name, o.Request.Record.Bytes)
			if err != nil {
				return o, err
			}
			latitude = record.Site.Latitude.Or(latitude)
		}
		if o.Wind, err = prelaunch.ReadProfile(file.Name, file.Bytes, latitude); err != nil {
			return o, err
		}
	}
	if o.Source, err = p.followSource(word, f, o.Request); err != nil {
		return o, err
	}
	for _, also := range f.also {
		if f.replay != "" || also == "-" && word == "-" {
			return o, usageError{fmt.Errorf("--also %s: a replay, and standard input twice, cannot be followed together", also)}
		}
		source, err := p.followSource(also, f, o.Request)
		if err != nil {
			return o, err
		}
		o.Also = append(o.Also, source)
	}
	if o.Journal = f.journal; o.Journal == "" {
		o.Journal = filepath.Join(filepath.Dir(p.logbookPath()), "leadline.live", journalName(o.Source))
	}
	if f.messages != "" {
		if o.Message, err = firstMessage(f); err != nil {
			return o, err
		}
	}
	return o, nil
}

func (p *program) followSource(word string, f *followFlags, q workbench.Request) (follow.Source, error) {
	if f.replay != "" {
		speed, err := strconv.ParseFloat(strings.TrimSuffix(f.replay, "x"), 64)
		if err != nil {
			return nil, usageError{fmt.Errorf("--replay %q: want how many times as fast, such as 100x", f.replay)}
		}
		file, err := readFile(word)
		if err != nil {
			return nil, err
		}
		path, err := filepath.Abs(word)
		if err != nil {
			return nil, err
		}
		if isBinary(file.Bytes) {
			if path, file.Bytes, err = p.replayText(path, file, q); err != nil {
				return nil, err
			}
			q.Recipe = workbench.File{} // it is leadline's own text now
		}
		return follow.NewReplay(path, file.Bytes, q, speed)
	}
	if word == "-" {
		return &follow.Stream{From: "standard input", Called: "standard-input.txt", Reader: p.in}, nil
	}
	s, err := follow.ParseSource(word, f.from)
	if err != nil {
		return nil, usageError{err}
	}
	if file, ok := s.(*follow.File); ok {
		if info, err := os.Stat(file.Path); err == nil && info.IsDir() {
			return nil, usageError{fmt.Errorf("%s is a folder: name the file that grows", word)}
		} else if head, e := headOf(file.Path); err == nil && e == nil && isBinary(head) {
			return nil, usageError{fmt.Errorf("%s is no text: only lines can be followed as they come; leadline check reads the finished file, --replay 20x sends it again for practice", word)}
		} else if errors.Is(err, fs.ErrNotExist) {
			if _, err := os.Stat(filepath.Dir(file.Path)); err != nil {
				return nil, fmt.Errorf("neither %s nor its folder is there: look at the name", word)
			}
		}
	}
	return s, nil
}

// isBinary tells netCDF, HDF and messages, which have no lines, from text.
func isBinary(head []byte) bool {
	for _, begin := range []string{"CDF", "\x89HDF", "BUFR"} {
		if strings.HasPrefix(string(head[:min(len(head), 8)]), begin) {
			return true
		}
	}
	return false
}

// headOf returns the first bytes of a file.
func headOf(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b := make([]byte, 8)
	n, err := io.ReadFull(f, b)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	return b[:n], err
}

// replayText makes the text of a flight that has no lines: the table that check writes of
// it, one row a line.
func (p *program) replayText(path string, file workbench.File, q workbench.Request) (string, []byte, error) {
	outcomes, err := workbench.Check([]workbench.File{file}, q)
	if err != nil {
		return "", nil, err
	}
	if len(outcomes) != 1 {
		return "", nil, fmt.Errorf("%s holds %d flights: a replay is of one", file.Name, len(outcomes))
	}
	var b bytes.Buffer
	if err := export.CSV(&b, exported(outcomes[0], []string{"csv"}, time.Time{})); err != nil {
		return "", nil, err
	}
	fmt.Fprintf(p.err, "%s has no lines: its rows are replayed as the table that leadline check --format csv writes\n", plain(file.Name))
	return strings.TrimSuffix(path, filepath.Ext(path)) + ".csv", b.Bytes(), nil
}

// journalName is the folder of a source's journal: its name, and figures that tell two of
// the same name apart.
func journalName(s follow.Source) string {
	sum := sha256.Sum256([]byte(s.Identity()))
	name := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.' {
			return r
		}
		return '-'
	}, s.Name())
	return name[:min(len(name), 60)] + "-" + hex.EncodeToString(sum[:4])
}

// firstMessage returns what writes the message that is due at 100 hPa.
func firstMessage(f *followFlags) (func(*workbench.Outcome) (string, error), error) {
	template, err := message.ParseTemplate(f.codeAs)
	if err != nil {
		return nil, usageError{err}
	}
	o := message.Options{Template: template, Upto: 100, Every: 2, Software: software()}
	if f.heading != "" {
		words := strings.Fields(f.heading)
		if len(words) != 2 {
			return nil, usageError{fmt.Errorf("--heading %q: want designator and centre, such as \"IUSX01 LAKE\"; day and time are filled in", f.heading)}
		}
		o.Heading = &temp.Heading{Designator: words[0], Centre: words[1]}
	}
	if err := os.MkdirAll(f.messages, 0o777); err != nil {
		return nil, err
	}
	return func(flight *workbench.Outcome) (string, error) {
		o := o
		o.Settings = &flight.Settings.Levels
		m, err := message.Encode(flight.Final, flight.Levels, o)
		if err != nil {
			return "", err
		}
		ending := filepath.Ext(m.FileName)
		paths, err := export.WriteFiles(f.messages, strings.TrimSuffix(m.FileName, ending), []export.File{{Ending: ending, Write: func(w io.Writer) error {
			_, err := w.Write(m.Bytes)
			return err
		}}})
		if err != nil {
			return "", err
		}
		return paths[0], nil
	}, nil
}

// eventLine is an event as --json prints it.
func eventLine(w io.Writer, e follow.Event) {
	b, err := json.Marshal(e)
	if err == nil {
		_, _ = w.Write(append(b, '\n'))
	}
}
