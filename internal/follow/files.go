package follow

import (
	"bytes"
	"fmt"
	"path"
	"strings"

	"leadline/internal/workbench"
)

// sourcesOf makes source files of a journal's parts. Most often there is one part and the
// file is its bytes. A later part that begins with the same line as the first, as a
// receiver's second file with its own preamble does, or that is another file where files
// have a preamble, is a source of its own: sources of one flight are joined by time. Any
// other part goes on where the one before stopped; a line torn between the two gets its
// end. whole false leaves out a last line that has no end yet.
func sourcesOf(name string, parts []Part, preamble, whole bool) []workbench.File {
	var files []workbench.File
	var first []byte
	for _, p := range parts {
		b := p.Bytes
		if len(b) == 0 {
			continue
		}
		if len(files) == 0 {
			first = firstLine(b)
			files = append(files, workbench.File{Name: name, Bytes: b})
			continue
		}
		again := first != nil && bytes.Equal(first, firstLine(b))
		if again || preamble && p.Offset == 0 && !isAddress(p.From) {
			files = append(files, workbench.File{Name: numbered(name, len(files)+1), Bytes: b})
			continue
		}
		files[len(files)-1].Bytes = glued(files[len(files)-1].Bytes, b)
	}
	if n := len(files); n > 0 && !whole {
		b := files[n-1].Bytes
		files[n-1].Bytes = b[:bytes.LastIndexByte(b, '\n')+1]
		if len(files[n-1].Bytes) == 0 {
			files = files[:n-1]
		}
	}
	return files
}

// gluedTogether takes every part for the continuation of the one before.
func gluedTogether(name string, parts []Part, whole bool) []workbench.File {
	var all []byte
	for _, p := range parts {
		if len(p.Bytes) > 0 {
			all = glued(all, p.Bytes)
		}
	}
	return sourcesOf(name, []Part{{Bytes: all}}, false, whole)
}

// glued returns a with b behind it, on a line of its own. Neither is changed.
func glued(a, b []byte) []byte {
	out := make([]byte, 0, len(a)+len(b)+1)
	out = append(out, a...)
	if n := len(out); n > 0 && out[n-1] != '\n' {
		out = append(out, '\n')
	}
	return append(out, b...)
}

// firstLine returns the first line that is not blank, nil where none has ended yet.
func firstLine(b []byte) []byte {
	for len(b) > 0 {
		i := bytes.IndexByte(b, '\n')
		if i < 0 {
			return nil
		}
		if line := bytes.TrimSpace(b[:i]); len(line) > 0 {
			return line
		}
		b = b[i+1:]
	}
	return nil
}

// numbered puts a number before a name's ending: flight.txt, flight.2.txt.
func numbered(name string, n int) string {
	ending := path.Ext(name)
	return fmt.Sprintf("%s.%d%s", strings.TrimSuffix(name, ending), n, ending)
}
