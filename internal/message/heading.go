package message

import (
	"fmt"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/temp"
)

// headingOf returns the heading with day, time and sequel filled in. Corrections are
// CCA, CCB … (WMO Manual on the Global Telecommunication System, from memory).
func headingOf(o *Options, nominal time.Time) (temp.Heading, error) {
	h := *o.Heading
	h.Day, h.Hour, h.Minute = nominal.Day(), nominal.Hour(), nominal.Minute()
	if o.Correction > 0 {
		if o.Correction > 24 {
			return h, fmt.Errorf("correction %d: headings tell 24 corrections apart, CCA to CCX", o.Correction)
		}
		h.Sequel = "CC" + string(rune('A'+o.Correction-1))
	}
	return h, nil
}

// wrapped puts a binary message under its heading and names its file.
func wrapped(b []byte, f *sounding.Final, o *Options, nominal time.Time, ending string) ([]byte, string, error) {
	if o.Heading == nil {
		return b, plainName(f, o, ending), nil
	}
	h, err := headingOf(o, nominal)
	if err != nil {
		return nil, "", err
	}
	line, err := h.Format()
	if err != nil {
		return nil, "", fmt.Errorf("heading: %w", err)
	}
	name, err := bulletinName(h, f, o, ending)
	if err != nil {
		return nil, "", err
	}
	// Start of heading, heading, message, end of text, as bulletins are exchanged.
	out := append([]byte("\x01\r\r\n"+line+"\r\r\n"), b...)
	return append(out, "\r\r\n\x03"...), name, nil
}

// bulletinName is the file's name by the general rules.
func bulletinName(h temp.Heading, f *sounding.Final, o *Options, ending string) (string, error) {
	at := o.Created
	if at.IsZero() && f.Len() > 0 {
		at = f.UTC(f.Time[f.Len()-1])
	}
	name, err := temp.FileName{Heading: h, Originator: h.Centre, Time: at, Type: ending}.Format()
	if err != nil {
		return "", fmt.Errorf("file name: %w", err)
	}
	return name, nil
}

// plainName is the name of a message without a heading.
func plainName(f *sounding.Final, o *Options, ending string) string {
	name := f.FlightName
	if name == "" {
		name = "flight"
	}
	name += "-" + string(o.Template)
	if o.Upto > 0 {
		name += fmt.Sprintf("-%ghPa", o.Upto)
	}
	if o.Correction > 0 {
		name += fmt.Sprintf("-correction%d", o.Correction)
	}
	return name + "." + ending
}
