package follow

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"time"
	"unicode/utf8"
)

// What a note is about.
const (
	noteOpened   = "opened"     // a part begins: From, Offset
	noteReceived = "received"   // the last bytes came at this time
	noteLink     = "link"       // the source was lost, found, resumed: Text
	noteAlarm    = "alarm"      // an alarm began: Kind, Text
	noteOver     = "alarm over" // and ended
	noteMessage  = "message"    // a message was written: Text is where
	noteFinished = "finished"   // the flight is in the logbook: Text says how
)

var noteEvents = map[string]bool{noteOpened: true, noteReceived: true, noteLink: true, noteAlarm: true, noteOver: true, noteMessage: true, noteFinished: true}

// Note is one line of a journal's notes.
type Note struct {
	UTC    time.Time `json:"utc"`
	Part   int       `json:"part"`
	At     int64     `json:"at"` // bytes of the part at that time
	Event  string    `json:"event"`
	Kind   string    `json:"kind,omitempty"`
	From   string    `json:"from,omitempty"`
	Offset int64     `json:"offset,omitempty"`
	Text   string    `json:"text,omitempty"`
	Last   string    `json:"last,omitempty"` // an alarm's sentence when it was over
}

func (n Note) line() ([]byte, error) {
	for _, s := range []*string{&n.From, &n.Text, &n.Last} {
		for len(*s) > 2000 {
			*s = (*s)[:2000]
			for !utf8.ValidString(*s) && *s != "" {
				*s = (*s)[:len(*s)-1]
			}
		}
	}
	b, err := json.Marshal(n)
	return append(b, '\n'), err
}

// valid tells whether a note can be one of ours.
func (n *Note) valid() bool {
	return noteEvents[n.Event] && n.Part >= 0 && n.Part <= maxParts && n.At >= 0 && n.At <= maxJournal && n.Offset >= 0 &&
		n.UTC.Year() >= 1990 && n.UTC.Year() < 2300
}

// readNotes reads notes; lines that are none, as a torn last one, are counted.
func readNotes(r io.Reader) (notes []Note, unread int) {
	b := bufio.NewReaderSize(io.LimitReader(r, maxNotes), maxNote)
	for {
		line, err := b.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			unread++
			for errors.Is(err, bufio.ErrBufferFull) {
				_, err = b.ReadSlice('\n')
			}
			if err != nil {
				return notes, unread
			}
			continue
		}
		whole := err == nil
		if line = bytes.TrimSpace(line); len(line) > 0 {
			var n Note
			if whole && json.Unmarshal(line, &n) == nil && n.valid() {
				notes = append(notes, n)
			} else {
				unread++
			}
		}
		if err != nil {
			return notes, unread
		}
	}
}
