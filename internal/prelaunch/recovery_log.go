package prelaunch

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

// recoveryLine is the longest line of a recovery log.
const recoveryLine = 64 << 10

// ReadRecoveries reads a recovery log: one JSON object a line, oldest first. A last line
// without an end that cannot be read was being written when the power went; it is left
// out and torn is true. Any other line that cannot be read is an error that names it.
func ReadRecoveries(name string, r io.Reader) (list []Recovery, torn bool, err error) {
	b := bufio.NewReaderSize(r, recoveryLine)
	for n := 1; ; n++ {
		line, err := b.ReadSlice('\n')
		if err == bufio.ErrBufferFull {
			return nil, false, fmt.Errorf("%s: line %d is longer than %d bytes: it is no recovery log", name, n, recoveryLine)
		}
		if err != nil && err != io.EOF {
			return nil, false, fmt.Errorf("%s: %w", name, err)
		}
		ended := err == nil
		if line = bytes.TrimSpace(line); len(line) > 0 {
			var entry Recovery
			d := json.NewDecoder(bytes.NewReader(line))
			d.DisallowUnknownFields()
			bad := d.Decode(&entry)
			if bad == nil {
				bad = entry.Validate()
			}
			switch {
			case bad == nil:
				list = append(list, entry)
			case !ended:
				return list, true, nil
			default:
				return nil, false, fmt.Errorf("%s: line %d: %w", name, n, bad)
			}
		}
		if !ended {
			return list, false, nil
		}
	}
}

// LatestRecoveries returns the last entry of each radiosonde (by serial number, else by
// flight), in the order in which each was last written about.
func LatestRecoveries(list []Recovery) []Recovery {
	key := func(r *Recovery) string {
		if r.Serial != "" {
			return "s" + r.Serial
		}
		return "f" + r.Flight
	}
	last := map[string]int{}
	for i := range list {
		last[key(&list[i])] = i
	}
	var out []Recovery
	for i := range list {
		if last[key(&list[i])] == i {
			out = append(out, list[i])
		}
	}
	return out
}
