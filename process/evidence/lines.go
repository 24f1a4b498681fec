package evidence

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
)

// What a file may hold at most: it comes from a stranger. Nine days of four probes at five
// seconds are 0.6 million readings. Proposals.
const (
	MaxLine  = 64 << 20 // bytes; the record is one line
	MaxRows  = 10_000_000
	MaxLines = 2_000_000 // of the journal, and signatures
	maxNames = 10_000    // probes, and strands of a seal
)

// gzipHead is how every file begins: packed, without a name or a time.
var gzipHead = [...]byte{0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 0xff}

// A line of the file, without its word.
type line struct {
	number int
	word   string
	text   []byte
}

// A lineReader reads lines and hashes what it has given out.
type lineReader struct {
	in     *bufio.Reader
	sum    hash.Hash
	number int
	buf    []byte
}

// newLineReader unpacks what is packed; plain text is read as it is.
func newLineReader(r io.Reader) (*lineReader, error) {
	in := bufio.NewReaderSize(r, 1<<16)
	head, err := in.Peek(len(gzipHead))
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if len(head) > 1 && head[0] == gzipHead[0] && head[1] == gzipHead[1] {
		if !bytes.Equal(head, gzipHead[:]) {
			return nil, errors.New("the head of the packing is not as flitch writes it")
		}
		pack, err := gzip.NewReader(in)
		if err != nil {
			return nil, err
		}
		in = bufio.NewReaderSize(&packed{pack, in}, 1<<16)
	}
	return &lineReader{in: in, sum: sha256.New()}, nil
}

// packed unpacks one piece and refuses to go on into another behind it.
type packed struct {
	pack *gzip.Reader
	in   *bufio.Reader
}

// Read implements io.Reader.
func (p *packed) Read(b []byte) (int, error) {
	p.pack.Multistream(false)
	n, err := p.pack.Read(b)
	if errors.Is(err, io.EOF) {
		if _, more := p.in.Peek(1); more == nil {
			return n, errors.New("there is something behind the end of the packing")
		}
	}
	return n, err
}

// next returns the next line; io.EOF after the last. What it returns holds until the next call.
func (l *lineReader) next() (line, error) {
	l.buf = l.buf[:0]
	for {
		part, err := l.in.ReadSlice('\n')
		l.buf = append(l.buf, part...)
		switch {
		case len(l.buf) > MaxLine:
			return line{}, fmt.Errorf("line %d is longer than %d bytes", l.number+1, MaxLine)
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(l.buf) == 0:
			return line{}, io.EOF
		case errors.Is(err, io.EOF):
			return line{}, fmt.Errorf("line %d has no end: the file is cut off", l.number+1)
		case err != nil:
			return line{}, fmt.Errorf("after line %d: %w", l.number, err)
		}
		break
	}
	l.number++
	word, text, ok := bytes.Cut(l.buf[:len(l.buf)-1], []byte{' '})
	if !ok {
		return line{}, fmt.Errorf("line %d is no line of a proof", l.number)
	}
	return line{l.number, string(word), text}, nil
}

// keep hashes the line that was read last.
func (l *lineReader) keep() { l.sum.Write(l.buf) }

func (l *lineReader) digest() string { return hex.EncodeToString(l.sum.Sum(nil)) }

// decode reads the JSON of a line, which has to be written just as flitch writes it: else
// two readers could understand it in two ways.
func decode[T any](l line) (v T, err error) {
	d := json.NewDecoder(bytes.NewReader(l.text))
	d.DisallowUnknownFields()
	if err := d.Decode(&v); err != nil {
		return v, fmt.Errorf("line %d, %s: %w", l.number, l.word, err)
	}
	again, err := json.Marshal(v)
	if err != nil || !bytes.Equal(again, l.text) {
		return v, fmt.Errorf("line %d, %s: it is not written as flitch writes it", l.number, l.word)
	}
	return v, nil
}
