package evidence

import (
	"bufio"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"slices"
	"strconv"

	"flitch/process"
)

// A Writer writes the file of a proof, in the order of its methods. The first error stays
// and is returned by End.
type Writer struct {
	pack   *gzip.Writer
	out    *bufio.Writer
	sum    hash.Hash
	batch  string
	probes []string
	line   []byte
	err    error
}

// NewWriter writes the opening. The same calls give the same bytes.
func NewWriter(w io.Writer, o Opening) *Writer {
	o.Format, o.Shows = Format, Limits
	pack := gzip.NewWriter(w)
	out := &Writer{pack: pack, out: bufio.NewWriterSize(pack, 1<<16), sum: sha256.New(), batch: o.Batch, probes: o.Probes}
	out.json(wordOpening, o)
	return out
}

// Record writes the record; record is JSON in one line.
func (w *Writer) Record(record []byte) { w.text(wordRecord, record) }

// Journal writes a line of the journal.
func (w *Writer) Journal(l process.JournalLine) { w.json(wordJournal, l) }

// Signature writes a signature of a line of the journal.
func (w *Writer) Signature(s Signature) { w.json(wordSignature, s) }

// Seal writes the strands of a seal. Its rows come next.
func (w *Writer) Seal(s SealLine) { w.json(wordSeal, s) }

// Wants reports whether rows of the strand are given in the file of the batch.
func (w *Writer) Wants(r *Row) bool { return wants(r, w.batch, w.probes) }

func wants(r *Row, batch string, probes []string) bool {
	switch r.Kind {
	case process.InputReading:
		return slices.Contains(probes, r.Probe)
	case process.InputCommand:
		return r.Batch == "" || r.Batch == batch
	}
	return false
}

// Row writes a row of the seal in hand.
func (w *Writer) Row(r *Row) {
	if r.Kind == process.InputCommand {
		w.json(wordSaid, saidLine{r.Seq, r.At, r.ID, r.Batch, r.Body})
		return
	}
	text, err := appendRead(w.line[:0], r, slices.Index(w.probes, r.Probe))
	w.line = text
	w.keep(err)
	w.text(wordRead, text)
}

// appendRead appends a reading as it stands in a file, without its word.
func appendRead(b []byte, r *Row, probe int) ([]byte, error) {
	for i, n := range [...]int64{r.Seq, int64(probe), r.At, r.Measured, r.Received} {
		if i > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendInt(b, n, 10)
	}
	bits := Bits(r.Value)
	if bits == "" {
		bits = "-"
	}
	b = append(append(b, ' '), bits...)
	if m := r.Mark; m != nil {
		text, err := json.Marshal(markLine{int(m.Quality), exact(m.Reason), m.Device, exact(m.Raw)})
		return append(append(b, ' '), text...), err
	}
	return b, nil
}

// Sum is the SHA-256 of what was written so far, hex: what the ending states.
func (w *Writer) Sum() string { return hex.EncodeToString(w.sum.Sum(nil)) }

// End writes the ending and returns the first error there was.
func (w *Writer) End(e Ending) error {
	w.json(wordEnd, e)
	if w.err == nil {
		w.err = w.out.Flush()
	}
	if w.err == nil {
		w.err = w.pack.Close()
	}
	return w.err
}

func (w *Writer) json(word string, v any) {
	text, err := json.Marshal(v)
	w.keep(err)
	w.text(word, text)
}

func (w *Writer) text(word string, text []byte) {
	if w.err != nil {
		return
	}
	for _, part := range [...][]byte{[]byte(word), {' '}, text, {'\n'}} {
		w.sum.Write(part)
		if _, err := w.out.Write(part); err != nil {
			w.keep(fmt.Errorf("write proof: %w", err))
			return
		}
	}
}

func (w *Writer) keep(err error) {
	if w.err == nil {
		w.err = err
	}
}
