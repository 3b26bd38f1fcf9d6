package message

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"

	"leadline/internal/bufr"
)

// inMemory is the size up to which a source that tells its length is read at once.
const inMemory = 8 << 20

// Inspect prints every message of a stream element by element, as text or one JSON
// object a line. full repeats bits and name on every line of the text. It returns how
// many messages were printed and what was wrong with the others.
func Inspect(ctx context.Context, w io.Writer, r io.Reader, asJSON, full bool) (messages int, problems []string, err error) {
	const most = 100
	reader := bufr.NewReader(r)
	if l, ok := r.(interface{ Len() int }); ok && l.Len() <= inMemory {
		content := make([]byte, l.Len())
		if _, err := io.ReadFull(r, content); err != nil {
			return 0, nil, err
		}
		reader = bufr.NewBytesReader(content)
	}
	out := bufio.NewWriterSize(w, bufferSize)
	p := bufr.Inspector{Full: full}
	var d bufr.Data
	problem := func(format string, args ...any) {
		if len(problems) < most {
			problems = append(problems, fmt.Sprintf(format, args...))
		}
	}
	for {
		if err := ctx.Err(); err != nil {
			return messages, problems, err
		}
		m, err := reader.Next()
		if err == io.EOF {
			break
		}
		var damaged *bufr.Error
		if errors.As(err, &damaged) {
			problem("%v", err)
			continue
		}
		if err != nil {
			return messages, problems, err
		}
		if !m.Before.Empty() && !m.Before.OnlyHeading() {
			problem("%s", m.Before.String())
		}
		if err := d.Decode(m, nil); err != nil {
			problem("%v", err)
			continue
		}
		if asJSON {
			err = p.JSON(out, &d)
		} else {
			err = p.Text(out, &d)
		}
		if err != nil {
			return messages, problems, err
		}
		messages++
	}
	if gap := reader.Trailing(); !gap.Empty() && !gap.OnlyHeading() {
		problem("%s", gap.String())
	}
	if messages == 0 && len(problems) == 0 {
		problem("the source is empty")
	}
	return messages, problems, out.Flush()
}
