package follow

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// File is a file that another program writes. It need not be there yet. A file of the same
// name that takes its place, or that is cut and written anew, is read from its beginning,
// as a part of its own; what the old one still held is read before.
type File struct {
	Path string
	Poll time.Duration // how often to look; 0 is four times a second
}

// tailKept is how many bytes before the place read to are compared, to see that the file
// is still the one that was read.
const tailKept = 64

// Name returns the file's name without its folder.
func (f *File) Name() string { return filepath.Base(f.Path) }

// Identity returns the file's path.
func (f *File) Identity() string { return f.Path }

// Run reads what is there and then what comes, until ctx ends.
func (f *File) Run(ctx context.Context, to Receiver) error {
	poll := f.Poll
	if poll <= 0 {
		poll = 250 * time.Millisecond
	}
	r := fileReader{path: f.Path, to: to}
	defer r.close()
	said := ""
	for {
		err := r.more(ctx)
		var pathErr *fs.PathError
		switch {
		case err == nil:
			said = ""
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.As(err, &pathErr):
			state := LinkLost
			if errors.Is(err, fs.ErrNotExist) && r.at == 0 && r.file == nil {
				state = LinkWaiting
			}
			s := fmt.Sprintf("the file %s cannot be read: %v; looking again", f.Name(), pathErr.Err)
			if state == LinkWaiting {
				s = fmt.Sprintf("waiting for the file %s, which is not there yet", f.Name())
			}
			if s != said {
				to.Link(state, s)
				said = s
			}
		default:
			return err
		}
		if !sleep(ctx, poll) {
			return ctx.Err()
		}
	}
}

type fileReader struct {
	path  string
	to    Receiver
	file  *os.File
	at    int64 // bytes of the file that were received
	tail  []byte
	begun bool
	buf   []byte
}

func (r *fileReader) close() {
	if r.file != nil {
		r.file.Close()
		r.file = nil
	}
}

// more receives whatever there is to read.
func (r *fileReader) more(ctx context.Context) error {
	if r.file == nil {
		if err := r.open(); err != nil {
			return err
		}
	}
	if err := r.drain(ctx); err != nil {
		return err
	}
	// Does the name still mean the file that is open, and the file hold what was read?
	info, err := os.Stat(r.path)
	if err != nil {
		return err
	}
	own, err := r.file.Stat()
	if err != nil {
		return err
	}
	switch {
	case !os.SameFile(info, own):
		if err := r.drain(ctx); err != nil { // written between the two looks
			return err
		}
		r.to.Link(LinkReceiving, fmt.Sprintf("the file %s was replaced by a new file, which is read from its beginning", filepath.Base(r.path)))
	case own.Size() < r.at || !r.unchanged():
		r.to.Link(LinkReceiving, fmt.Sprintf("the file %s was cut and is written anew: it is read from its beginning", filepath.Base(r.path)))
	default:
		return nil
	}
	r.close()
	r.at, r.tail, r.begun = 0, nil, false
	return r.more(ctx)
}

// open opens the file and finds how much of it the journal has.
func (r *fileReader) open() error {
	file, err := os.Open(r.path)
	if err != nil {
		return err
	}
	r.file = file
	part, any := r.to.Last()
	if r.at == 0 && !r.begun && any && part.Offset >= 0 && part.From == r.path && sameBytes(file, part) {
		r.at, r.begun = part.Offset+int64(len(part.Bytes)), true
		r.tail = append([]byte(nil), part.Bytes[max(0, len(part.Bytes)-tailKept):]...)
		r.to.Link(LinkReceiving, fmt.Sprintf("the file %s is read on where the journal ends, at byte %d", filepath.Base(r.path), r.at))
		return nil
	}
	r.to.Link(LinkReceiving, fmt.Sprintf("the file %s is read", filepath.Base(r.path)))
	return nil
}

// sameBytes tells whether a file holds all of a part at its place.
func sameBytes(f io.ReaderAt, p Part) bool {
	r := io.NewSectionReader(f, p.Offset, int64(len(p.Bytes)))
	buf := make([]byte, 64<<10)
	left := p.Bytes
	for len(left) > 0 {
		n, err := io.ReadFull(r, buf[:min(len(buf), len(left))])
		if err != nil || !bytes.Equal(buf[:n], left[:n]) {
			return false
		}
		left = left[n:]
	}
	return true
}

// unchanged tells whether the file still ends, where it was read to, with what was read.
func (r *fileReader) unchanged() bool {
	if len(r.tail) == 0 {
		return true
	}
	b := make([]byte, len(r.tail))
	n, err := r.file.ReadAt(b, r.at-int64(len(b)))
	return n == len(b) && (err == nil || err == io.EOF) && bytes.Equal(b, r.tail)
}

// written is when the file was last written: what lay there before came then, not now.
func (r *fileReader) written() time.Time {
	if info, err := r.file.Stat(); err == nil {
		return info.ModTime()
	}
	return time.Time{}
}

func (r *fileReader) drain(ctx context.Context) error {
	if r.buf == nil {
		r.buf = make([]byte, 64<<10)
	}
	for ctx.Err() == nil {
		n, err := r.file.ReadAt(r.buf, r.at)
		if n > 0 && !r.unchanged() {
			return nil // the caller sees it too and begins anew
		}
		if n > 0 {
			if !r.begun {
				if err := begin(ctx, r.to, r.path, r.at); err != nil {
					return err
				}
				r.begun = true
			}
			if err := r.to.Receive(r.buf[:n], r.written()); err != nil {
				return err
			}
			r.at += int64(n)
			r.tail = append(r.tail, r.buf[:n]...)
			if k := len(r.tail); k > tailKept {
				r.tail = append([]byte(nil), r.tail[k-tailKept:]...)
			}
		}
		if err == io.EOF || n == 0 && err == nil {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}
