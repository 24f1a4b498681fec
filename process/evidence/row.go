package evidence

import (
	"encoding/hex"
	"math"
	"strconv"
	"strings"

	"flitch/process"
)

// A Row is one row of the input log as it is stored. Times are milliseconds since
// 1970-01-01 00:00 UTC.
type Row struct {
	Seq  int64
	Kind process.InputKind
	At   int64 // when it was taken in; never runs backwards along Seq

	// Of a reading.
	Probe              string
	Measured, Received int64
	Value              float64 // NaN: it has none
	Mark               *Mark   // nil: it is plain

	// Of a command.
	ID, Batch string
	Body      string // JSON, as it is stored
}

// A Mark is what is kept of a reading that is not plain.
type Mark struct {
	Quality process.Quality
	Reason  string
	Device  *int64 // ms; nil: none
	Raw     string
}

// The strands into which the log is parted, so that the rows of one probe or batch can
// be given away without those of the others.
const (
	probeStrand   = "probe "
	commandStrand = "commands " // of a batch; of the house when no name follows
	tickStrand    = "ticks"
)

// Strand is the strand the row belongs to.
func (r *Row) Strand() string {
	switch r.Kind {
	case process.InputReading:
		return probeStrand + r.Probe
	case process.InputCommand:
		return commandStrand + r.Batch
	}
	return tickStrand
}

// Append appends the bytes of the row that are hashed. They are fields, each written as
// its length in bytes, decimal, a colon, the bytes, and a comma (a netstring), with
// nothing between them; numbers are decimal:
//
//	seq, kind ("reading", "command" or "tick"), at
//	of a reading: probe, measured, received, value, which is the IEEE 754 bits as 16 hex
//	    digits, empty if there is none; and if it has a mark: quality (0, 1 or 2),
//	    reason, device (empty: none), raw
//	of a command: id, batch, body
//
// The lengths make it impossible to move text from one field to the next.
func (r *Row) Append(b []byte) []byte {
	b = appendNumber(b, r.Seq)
	switch r.Kind {
	case process.InputReading:
		b = appendNumber(appendText(b, "reading"), r.At)
		b = appendText(b, r.Probe)
		b = appendNumber(appendNumber(b, r.Measured), r.Received)
		b = appendText(b, Bits(r.Value))
		if r.Mark != nil {
			b = r.Mark.append(b)
		}
	case process.InputCommand:
		b = appendNumber(appendText(b, "command"), r.At)
		b = appendText(appendText(appendText(b, r.ID), r.Batch), r.Body)
	default:
		b = appendNumber(appendText(b, "tick"), r.At)
	}
	return b
}

func (m *Mark) append(b []byte) []byte {
	b = appendText(appendNumber(b, int64(m.Quality)), m.Reason)
	device := ""
	if m.Device != nil {
		device = strconv.FormatInt(*m.Device, 10)
	}
	return appendText(appendText(b, device), m.Raw)
}

// Bits writes a value exactly: its 64 bits as 16 hex digits, empty for one that is no
// number.
func Bits(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	var bytes [8]byte
	for i, u := 7, math.Float64bits(v); i >= 0; i, u = i-1, u>>8 {
		bytes[i] = byte(u)
	}
	return hex.EncodeToString(bytes[:])
}

// fromBits is the way back; ok is false for a text that Bits does not write.
func fromBits(text string) (v float64, ok bool) {
	if text == "" {
		return math.NaN(), true
	}
	u, err := strconv.ParseUint(text, 16, 64)
	v = math.Float64frombits(u)
	return v, err == nil && len(text) == 16 && text == strings.ToLower(text) && !math.IsNaN(v)
}

func appendText(b []byte, text string) []byte {
	b = strconv.AppendInt(b, int64(len(text)), 10)
	return append(append(append(b, ':'), text...), ',')
}

func appendNumber(b []byte, n int64) []byte {
	var digits [20]byte
	text := strconv.AppendInt(digits[:0], n, 10)
	b = strconv.AppendInt(b, int64(len(text)), 10)
	return append(append(append(b, ':'), text...), ',')
}
