package evidence

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"flitch/process"
)

// Read reads the file of a proof and checks all in it that needs no other knowledge: its
// form, the chain, the seals, the signatures. given are the fingerprints of the keys it
// should be signed by, separated by commas; empty: any. What is wrong is in the report. The file is nil if it could not
// be read to its end.
func Read(r io.Reader, given string) (*File, Report) {
	f := &File{given: given, seals: map[int64]Seal{}, signed: map[int64]Signature{}}
	if err := f.read(r); err != nil {
		f.report.Add(NotMet, "file", "%v", err)
		return nil, f.report
	}
	f.conclude()
	return f, f.report
}

// Begins reports whether a file that begins like that can be a proof: packed, or with its
// first word. It needs no more than eight bytes.
func Begins(head []byte) bool {
	return bytes.HasPrefix(head, gzipHead[:2]) || bytes.HasPrefix(head, []byte(wordOpening))
}

// order is in which order the words of a file come; seal, said and read go together.
var order = map[string]int{wordOpening: 0, wordRecord: 1, wordJournal: 2, wordSignature: 3, wordSeal: 4, wordSaid: 4, wordRead: 4, wordEnd: 5}

func (f *File) read(r io.Reader) error {
	lines, err := newLineReader(r)
	if err != nil {
		return err
	}
	for at := -1; ; {
		l, err := lines.next()
		switch {
		case errors.Is(err, io.EOF) && at == order[wordEnd]:
			return nil
		case errors.Is(err, io.EOF):
			return fmt.Errorf("it ends after line %d without an ending: it is cut off", lines.number)
		case err != nil:
			return err
		}
		place, known := order[l.word]
		once := place < 2 || place == order[wordEnd]
		if !known || place < at || once && place == at || at < 2 && place > at+1 {
			return fmt.Errorf("line %d: %.20q has no place there", l.number, l.word)
		}
		at = place
		if l.word == wordEnd {
			f.content = lines.digest()
		}
		if err := f.take(l); err != nil {
			return err
		}
		lines.keep()
	}
}

func (f *File) take(l line) (err error) {
	switch l.word {
	case wordOpening:
		f.Opening, err = decode[Opening](l)
		if err == nil && f.Format != Format {
			err = fmt.Errorf("line %d: it is of format %d, and this flitch reads %d", l.number, f.Format, Format)
		}
		if len(f.Probes) > maxNames {
			err = fmt.Errorf("line %d: %d probes are too many", l.number, len(f.Probes))
		}
	case wordRecord:
		f.Record, err = plainJSON(l)
	case wordJournal:
		err = f.takeJournal(l)
	case wordSignature:
		err = f.takeSignature(l)
	case wordSeal:
		err = f.takeSeal(l)
	case wordSaid, wordRead:
		err = f.takeRow(l)
	case wordEnd:
		f.Ending, err = decode[Ending](l)
	}
	return err
}

// plainJSON is a copy of the JSON of a line, if it is written without anything between.
func plainJSON(l line) (json.RawMessage, error) {
	var b bytes.Buffer
	if err := json.Compact(&b, l.text); err != nil || !bytes.Equal(b.Bytes(), l.text) {
		return nil, fmt.Errorf("line %d, %s: it is not written as flitch writes it", l.number, l.word)
	}
	return b.Bytes(), nil
}

func (f *File) takeJournal(l line) error {
	said, err := decode[process.JournalLine](l)
	if err != nil {
		return err
	}
	if f.lines++; f.lines > MaxLines {
		return fmt.Errorf("line %d: the journal is too long", l.number)
	}
	if f.lines == 1 {
		f.chain.Begin(said)
		f.first = said.Seq
	}
	if err := f.chain.Next(said); err != nil && !f.report.wrong("journal") {
		f.report.Add(NotMet, "journal", "%v", err)
	}
	if said.Kind != SealKind {
		return nil
	}
	seal, ok := ParseSeal(said.Text)
	if !ok {
		f.report.Add(NotMet, "seals", "journal line %d is no seal as flitch writes it", said.Seq)
		return nil
	}
	f.seals[said.Seq] = seal
	f.hashes = append(f.hashes, sealed{said.Seq, said.Hash})
	return nil
}

func (f *File) takeSignature(l line) error {
	s, err := decode[Signature](l)
	if err != nil {
		return err
	}
	if len(f.signed) > MaxLines {
		return fmt.Errorf("line %d: too many signatures", l.number)
	}
	f.signed[s.Line] = s
	return nil
}

func (f *File) takeRow(l line) error {
	if f.rows++; f.rows > MaxRows {
		return fmt.Errorf("line %d: more than %d rows", l.number, MaxRows)
	}
	if f.at == 0 {
		return fmt.Errorf("line %d: a row that no seal stands over", l.number)
	}
	var row Row
	if l.word == wordSaid {
		said, err := decode[saidLine](l)
		if err != nil {
			return err
		}
		row = Row{Seq: said.Seq, Kind: process.InputCommand, At: said.At, ID: said.ID, Batch: said.Batch, Body: said.Body}
	} else if err := f.parseRead(l, &row); err != nil {
		return err
	}
	return f.takeIn(l, &row)
}

// parseRead reads a reading, which has to be written just as appendRead writes it.
func (f *File) parseRead(l line, row *Row) error {
	bad := fmt.Errorf("line %d, %s: it is not written as flitch writes it", l.number, l.word)
	fields := strings.SplitN(string(l.text), " ", 7)
	if len(fields) < 6 {
		return bad
	}
	var n [5]int64
	for i := range n {
		v, err := strconv.ParseInt(fields[i], 10, 64)
		if err != nil {
			return bad
		}
		n[i] = v
	}
	if n[1] < 0 || n[1] >= int64(len(f.Probes)) {
		return fmt.Errorf("line %d: there is no probe %d", l.number, n[1])
	}
	*row = Row{Seq: n[0], At: n[2], Measured: n[3], Received: n[4], Probe: f.Probes[n[1]], Value: math.NaN()}
	if fields[5] != "-" {
		v, ok := fromBits(fields[5])
		if !ok || fields[5] == "" {
			return bad
		}
		row.Value = v
	}
	if len(fields) == 7 {
		m, err := decode[markLine](line{l.number, l.word, []byte(fields[6])})
		if err != nil {
			return err
		}
		if m.Quality < 0 || m.Quality > int(process.Bad) {
			return bad
		}
		row.Mark = &Mark{process.Quality(m.Quality), string(m.Reason), m.Device, string(m.Raw)}
	}
	again, err := appendRead(f.buf[:0], row, slices.Index(f.Probes, row.Probe))
	f.buf = again
	if err != nil || !bytes.Equal(again, l.text) {
		return bad
	}
	return nil
}

// RecordIn returns the JSON of the record in the file of a proof, from its beginning: it checks
// nothing and does not need the rest.
func RecordIn(r io.Reader) (json.RawMessage, error) {
	lines, err := newLineReader(r)
	if err != nil {
		return nil, err
	}
	for {
		l, err := lines.next()
		if err != nil {
			return nil, fmt.Errorf("no record: %w", err)
		}
		if l.word == wordRecord {
			return bytes.Clone(l.text), nil
		}
	}
}
