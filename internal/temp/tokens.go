package temp

import "strings"

// token is a group with its place in the text.
type token struct {
	text         string
	line, column int // from 1
}

// tokens splits a line at blanks, control characters and "=", which is a token of its own.
func (t *tokenList) addLine(line string, number int) {
	for i := 0; i < len(line); {
		c := line[i]
		if c <= ' ' || c == 0x7f {
			i++
			continue
		}
		start := i
		if c == '=' {
			i++
		} else {
			for i < len(line) && line[i] > ' ' && line[i] != 0x7f && line[i] != '=' {
				i++
			}
		}
		*t = append(*t, token{text: line[start:i], line: number, column: start + 1})
	}
}

type tokenList []token

// joined returns groups as one text, shortened, safe to show.
func joined(t []token) string {
	var b strings.Builder
	for i, g := range t {
		if b.Len() > 40 {
			b.WriteString(" …")
			break
		}
		if i > 0 {
			b.WriteByte(' ')
		}
		s := g.text
		if len(s) > 40 {
			s = s[:40] + "…"
		}
		b.WriteString(s)
	}
	return strings.ToValidUTF8(b.String(), "?")
}

// startOf returns form and part that a group such as TTAA begins.
func startOf(g string) (Form, Part, bool) {
	if len(g) != 4 || g[2] != g[3] || g[2] < 'A' || g[2] > 'D' {
		return 0, 0, false
	}
	for f, row := range forms {
		if row.letters != "" && g[:2] == row.letters {
			return Form(f), Part(g[2]), true
		}
	}
	return 0, 0, false
}

// isIndicator reports a section indicator: 21212, 31313, 41414, 51515 to 59595 and
// 61616 to 69696. 55555 and 66666 would be of that series but are not taken for it:
// they are also levels at 555 and 666 hPa.
func isIndicator(g string) bool {
	return len(g) == 5 && g[0] >= '2' && g[0] <= '6' && g[1] >= '1' && g[1] <= '9' &&
		g[2] == g[0] && g[4] == g[0] && g[3] == g[1] && g[0] != g[1] &&
		(g[0] >= '5' || g[1] == '1')
}
