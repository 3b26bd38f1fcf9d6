package message

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"

	"leadline/internal/bufr"
)

// Inspect prints every message of a stream element by element, as text or one JSON
// object a line. full repeats bits and name on every line of the text. It returns how
// many messages were printed and what was wrong with the others.
func Inspect(ctx context.Context, w io.Writer, r io.Reader, asJSON, full bool) (messages int, problems []string, err error) {
	const most = 100
	reader := bufr.NewReader(r)
	out := bufio.NewWriterSize(w, 256<<10)
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
