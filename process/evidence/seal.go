package evidence

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"slices"
	"strings"

	"flitch/process"
)

// SealKind is the kind of a journal line that is a seal, KeyKind of one that says which
// key signs from there on.
const (
	SealKind = "sealed"
	KeyKind  = "record key"
)

// A Seal stands over every row of the log whose number is From to To.
type Seal struct {
	From, To int64
	Rows     int64
	Root     string // SHA-256, hex; see Sealed.Root
	Unsigned string // why the line was not signed; empty: it is
}

// Text is what the journal line of the seal says.
func (s Seal) Text() string {
	text := fmt.Sprintf("numbers %d to %d, %d rows, SHA-256 %s", s.From, s.To, s.Rows, s.Root)
	if s.Unsigned != "" {
		text += "; not signed: " + s.Unsigned
	}
	return text
}

// ParseSeal reads a text that Text has written.
func ParseSeal(text string) (s Seal, ok bool) {
	head, why, _ := strings.Cut(text, "; not signed: ")
	n, err := fmt.Sscanf(head, "numbers %d to %d, %d rows, SHA-256 %s", &s.From, &s.To, &s.Rows, &s.Root)
	s.Unsigned = why
	return s, err == nil && n == 4 && s.Text() == text && len(s.Root) == 64 && 0 < s.From && s.From <= s.To && s.Rows >= 0
}

// A Strand is what a seal says of the rows of one probe, of what was said of one batch,
// or of the ticks.
type Strand struct {
	Name   string `json:"name"`
	Rows   int64  `json:"rows"`
	Digest string `json:"sha256"` // SHA-256, hex, of the bytes of its rows in the order of their numbers, see Row.Append
}

// Root is the SHA-256, in hex, over the fields "flitch seal", from, to and then of each
// strand, sorted by the bytes of its name, name, rows and digest; each field a netstring
// as in Row.Append.
func Root(from, to int64, strands []Strand) string {
	b := appendNumber(appendNumber(appendText(nil, "flitch seal"), from), to)
	for _, s := range strands {
		b = appendText(appendNumber(appendText(b, s.Name), s.Rows), s.Digest)
	}
	return digest(b)
}

// A Sealer takes the rows of a span of numbers and makes the seal over them. It holds one
// running hash for each strand, whatever the number of rows. The zero value is ready.
type Sealer struct {
	strands map[strandKey]*running
	known   []Strand // whose rows were removed
	buf     []byte
}

// A strandKey is a strand, found without making its name for each row.
type strandKey struct {
	kind process.InputKind
	of   string
}

type running struct {
	name string
	hash hash.Hash
	rows int64
	last int64
}

// Take adds a row. Those of one strand have to come in the order of their numbers; false
// means that this one did not.
func (s *Sealer) Take(r *Row) bool {
	if s.strands == nil {
		s.strands = map[strandKey]*running{}
	}
	key := strandKey{r.Kind, r.Probe + r.Batch} // a row has one of them at most
	one := s.strands[key]
	if one == nil {
		one = &running{name: r.Strand(), hash: sha256.New()}
		s.strands[key] = one
	}
	if one.rows > 0 && r.Seq <= one.last {
		return false
	}
	s.buf = r.Append(s.buf[:0])
	one.hash.Write(s.buf)
	one.rows++
	one.last = r.Seq
	return true
}

// Strands returns what was taken, sorted by name.
func (s *Sealer) Strands() []Strand {
	out := append(make([]Strand, 0, len(s.strands)+len(s.known)), s.known...)
	for _, one := range s.strands {
		out = append(out, Strand{Name: one.name, Rows: one.rows, Digest: hex.EncodeToString(one.hash.Sum(nil))})
	}
	slices.SortFunc(out, func(a, b Strand) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// Seal is the seal over the numbers from to to, of which all rows were taken.
func (s *Sealer) Seal(from, to int64) Seal {
	strands := s.Strands()
	return Seal{From: from, To: to, Rows: rowsOf(strands), Root: Root(from, to, strands)}
}

func rowsOf(strands []Strand) (n int64) {
	for _, s := range strands {
		n += s.Rows
	}
	return n
}
