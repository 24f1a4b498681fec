package evidence

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"flitch/process"
)

// JournalHash is the hash of a line: SHA-256, in lower-case hex, over seven fields
// in this order:
//
//	seq    decimal
//	at     milliseconds since 1970-01-01 00:00 UTC, decimal
//	batch  UTF-8, empty if the line is about no batch
//	kind   UTF-8
//	by     UTF-8, empty if no person did it
//	text   UTF-8
//	prev   the hash of the line before, 64 hex digits; empty on line 1
//
// each written as its length in bytes, decimal, a colon, the bytes, and a comma (a
// netstring), with nothing between them. The lengths make it impossible to move
// text from one field to the next. Line 1 at the start of 1970 that says "hi"
// about nothing is hashed by
//
//	printf '1:1,1:0,0:,4:note,0:,2:hi,0:,' | sha256sum
//
// The Hash of l is not looked at.
func JournalHash(l process.JournalLine) string {
	b := appendNumber(appendNumber(nil, l.Seq), l.At.UnixMilli())
	for _, text := range []string{l.Batch, l.Kind, l.By, l.Text, l.Prev} {
		b = appendText(b, text)
	}
	return digest(b)
}

func digest(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// A BadLine is the first line of the journal that is not as it was written.
type BadLine struct {
	Seq  int64  // of the line, or of the place where it should be
	What string // in words
}

// Error names the line and what is wrong with it.
func (b *BadLine) Error() string { return fmt.Sprintf("journal line %d: %s", b.Seq, b.What) }

// A Chain walks the journal. The zero value begins at line 1; Begin at a later one.
type Chain struct {
	seq   int64
	hash  string
	Lines int64 // that follow from each other
}

// Begin lets the walk begin with the line, whatever is before it.
func (c *Chain) Begin(l process.JournalLine) { c.seq, c.hash = l.Seq-1, l.Prev }

// Next takes the next line. The error is a *BadLine.
func (c *Chain) Next(l process.JournalLine) error {
	switch {
	case l.Seq > c.seq+1:
		return &BadLine{c.seq + 1, "it is missing"}
	case l.Seq != c.seq+1:
		return &BadLine{l.Seq, fmt.Sprintf("it stands where line %d should", c.seq+1)}
	case l.Prev != c.hash:
		return &BadLine{l.Seq, "it does not follow from the line before"}
	case l.Hash != JournalHash(l):
		return &BadLine{l.Seq, "its text does not match its hash"}
	}
	c.seq, c.hash = l.Seq, l.Hash
	c.Lines++
	return nil
}

// Last is the number and the hash of the last line taken.
func (c *Chain) Last() (seq int64, hash string) { return c.seq, c.hash }
