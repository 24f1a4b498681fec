package block

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"io"
	"sync"
)

// pack appends the column to out, packed.
func pack(out, column []byte) ([]byte, error) {
	var packed bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(column); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	out = binary.AppendUvarint(out, uint64(len(column)))
	out = binary.AppendUvarint(out, uint64(packed.Len()))
	return append(out, packed.Bytes()...), nil
}

// An unpacker is what can be used again: DEFLATE needs 40 KB each time.
type unpacker struct {
	from   bytes.Reader
	packed io.ReadCloser
	room   bytes.Buffer
	column column
}

var unpackers = sync.Pool{New: func() any {
	u := new(unpacker)
	u.packed = flate.NewReader(&u.from)
	return u
}}

// unpack reads the column at the front of b, of at most so many bytes. It holds until the
// next call.
func (u *unpacker) unpack(b []byte, most uint64) (*column, []byte, error) {
	length, n := binary.Uvarint(b)
	if n <= 0 || length > most {
		return nil, nil, errors.New("its length cannot be")
	}
	b = b[n:]
	packed, n := binary.Uvarint(b)
	if n <= 0 || packed > uint64(len(b)-n) {
		return nil, nil, errors.New("it is cut off")
	}
	u.from.Reset(b[n : n+int(packed)])
	if err := u.packed.(flate.Resetter).Reset(&u.from, nil); err != nil {
		return nil, nil, err
	}
	u.room.Reset() // grows as it is read, not by what the length says
	got, err := u.room.ReadFrom(io.LimitReader(u.packed, int64(length)+1))
	switch {
	case err != nil:
		return nil, nil, err
	case uint64(got) != length:
		return nil, nil, errors.New("it is not as long as it says")
	case u.from.Len() > 0:
		return nil, nil, errors.New("there is something behind its end")
	}
	u.column = column{left: u.room.Bytes()}
	return &u.column, b[n+int(packed):], nil
}

// A column is read from its front. After the first thing that is wrong it gives zeros.
type column struct {
	left []byte
	bad  bool
}

func (c *column) uvarint() uint64 {
	if len(c.left) > 0 && c.left[0] < 0x80 { // nearly all are short
		v := c.left[0]
		c.left = c.left[1:]
		return uint64(v)
	}
	v, n := binary.Uvarint(c.left)
	if n <= 0 {
		c.bad, c.left = true, nil
		return 0
	}
	c.left = c.left[n:]
	return v
}

func (c *column) varint() int64 { return unfold(c.uvarint()) }

// fold makes small numbers of those near zero: 0, -1, 1, -2 become 0, 1, 2, 3.
func fold(v int64) uint64 { return uint64(v)<<1 ^ uint64(v>>63) }

func unfold(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// text reads a text with its length in front.
func (c *column) text() string {
	n := c.uvarint()
	if n > MaxText || n > uint64(len(c.left)) {
		c.bad, c.left = true, nil
		return ""
	}
	v := string(c.left[:n])
	c.left = c.left[n:]
	return v
}
