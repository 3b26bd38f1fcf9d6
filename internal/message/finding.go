package message

import (
	"fmt"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// notes collects what is said about a message.
type notes struct{ list []sounding.Finding }

// say adds a finding about an item of the launch record, or about the message where
// field is "".
func (n *notes) say(severity sounding.Severity, field, format string, args ...any) *sounding.Finding {
	f := sounding.Finding{Check: quality.LaunchRecord, Severity: severity, Stage: "message", Field: field, Sentence: fmt.Sprintf(format, args...),
		FirstTime: sounding.NotSet, LastTime: sounding.NotSet, Bottom: sounding.NotSet, Top: sounding.NotSet, Measured: sounding.NotSet, Limit: sounding.NotSet}
	f.ID = "message." + field
	if field == "" {
		f.Check = quality.Derived
		f.ID = "message"
	}
	n.list = append(n.list, f)
	return &n.list[len(n.list)-1]
}
