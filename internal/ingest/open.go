package ingest

import (
	"bufio"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"

	"github.com/klauspost/compress/zstd"
)

// received counts and hashes the bytes of a source as they come in.
type received struct {
	r   io.Reader
	sum hash.Hash
	n   int64
}

func (r *received) Read(p []byte) (int, error) {
	n, err := r.r.Read(p)
	r.sum.Write(p[:n])
	r.n += int64(n)
	return n, err
}

// sha returns the SHA-256 of everything that was received.
func (r *received) sha() string { return hex.EncodeToString(r.sum.Sum(nil)) }

// opened is a source with its packing taken off. Reading it to the end reads the
// received bytes to the end.
type opened struct {
	*received
	plain  io.Reader
	packed string // "", gzip or zstd
	close  func()
	cut    error // why unpacking ended before the end of the data; nil where it did not
	out    int64
}

// open looks at the first bytes of a source and takes gzip or zstd off.
func open(r io.Reader) (*opened, error) {
	o := &opened{received: &received{r: r, sum: sha256.New()}, close: func() {}}
	b := bufio.NewReaderSize(o.received, 64<<10)
	head, err := b.Peek(4)
	if err != nil && err != io.EOF {
		return nil, err
	}
	switch {
	case len(head) >= 2 && head[0] == 0x1f && head[1] == 0x8b:
		z, err := gzip.NewReader(b)
		if err != nil {
			return nil, fmt.Errorf("begins like gzip but cannot be unpacked: %w", err)
		}
		o.packed, o.plain = "gzip", z
	case len(head) == 4 && head[0] == 0x28 && head[1] == 0xb5 && head[2] == 0x2f && head[3] == 0xfd:
		z, err := zstd.NewReader(b, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(64<<20), zstd.WithDecoderMaxMemory(maxUnpacked))
		if err != nil {
			return nil, fmt.Errorf("begins like zstd but cannot be unpacked: %w", err)
		}
		o.packed, o.plain, o.close = "zstd", z, z.Close
	default:
		o.plain = b
	}
	return o, nil
}

// errTooLarge says that a source unpacks to more than is allowed.
type errTooLarge struct{ text string }

func (e *errTooLarge) Error() string { return e.text }

// Read gives the plain bytes. Packed data that end early are the end of the source,
// kept in cut; packed data that grow beyond the bounds are an error.
func (o *opened) Read(p []byte) (int, error) {
	n, err := o.plain.Read(p)
	o.out += int64(n)
	if o.out > maxUnpacked {
		return 0, &errTooLarge{fmt.Sprintf("more than %d MiB of text: no flight has that much; cut the file or look at what it is", maxUnpacked>>20)}
	}
	if o.packed == "" {
		return n, err
	}
	if o.out > ratioFloor && o.out > maxRatio*o.received.n {
		return 0, &errTooLarge{fmt.Sprintf("unpacks to more than %d times its size: refused as a decompression bomb", maxRatio)}
	}
	if err != nil && err != io.EOF {
		var large *errTooLarge
		if errors.As(err, &large) {
			return n, err
		}
		o.cut = err
		// What was packed behind the damage still counts for the identity of the bytes.
		if _, err := io.Copy(io.Discard, o.received); err != nil {
			return n, err
		}
		return n, io.EOF
	}
	if err == io.EOF {
		if _, err := io.Copy(io.Discard, o.received); err != nil {
			return n, err
		}
	}
	return n, err
}
