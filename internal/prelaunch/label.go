package prelaunch

import (
	"fmt"
	"strings"
	"time"
)

// Contact is whom a finder should call: the site's own words.
type Contact struct {
	Name  string `json:"name" toml:"name"`
	Phone string `json:"phone" toml:"phone"`
	Mail  string `json:"mail" toml:"mail"`
	Text  string `json:"text" toml:"text"` // what to add, in the finder's language
}

// Label returns the text of a finder's label: harmless, what it is, what to do with it,
// whom to call. Without a contact it says so instead of inventing one.
func Label(c Contact, serial string, release time.Time, site string) string {
	var b strings.Builder
	b.WriteString("WEATHER INSTRUMENT – HARMLESS\n")
	b.WriteString("This radiosonde measured the air under a balloon and came down by itself.\n")
	if site != "" || !release.IsZero() {
		b.WriteString("Released")
		if site != "" {
			b.WriteString(" at " + site)
		}
		if !release.IsZero() {
			b.WriteString(" on " + release.UTC().Format("2 January 2006"))
		}
		b.WriteString(".\n")
	}
	if serial != "" {
		fmt.Fprintf(&b, "Serial number: %s\n", serial)
	}
	b.WriteString("Do not climb or enter land, water or roads for it. If it hangs in a power line, keep away\nand call the operator of the line. Take the battery out; do not burn it.\n")
	switch {
	case c.Name == "" && c.Phone == "" && c.Mail == "":
		b.WriteString("Contact: (the site's name and telephone or mail are not given yet)\n")
	default:
		b.WriteString("Please tell us where and when you found it:\n")
		for _, s := range []string{c.Name, c.Phone, c.Mail} {
			if s != "" {
				b.WriteString(s + "\n")
			}
		}
	}
	if c.Text != "" {
		b.WriteString(c.Text + "\n")
	}
	return b.String()
}
