package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

var columns = [...]string{"time_utc", "time_local", "batch", "piece", "placement", "probe", "value", "unit", "quality", "source", "sent"}

// CSV writes one line per reading. Times are RFC 3339, the local one with its
// offset in numbers; values have a decimal point, and are with the correction that a
// check of the probe made (sent is then what it sent); text that a spreadsheet
// would take for a formula gets an apostrophe in front, and is on one line.
func (r *Record) CSV(w io.Writer) error {
	table := r.table(w)
	err := r.Readings.each(table.row)
	if err == nil {
		err = table.end()
	}
	if err != nil {
		return fmt.Errorf("record %s: write CSV: %w", r.Head.Batch, err)
	}
	return nil
}

// A table writes rows as CSV. A batch has hundreds of thousands of them, with the same few
// words: what a word looks like is worked out once.
type table struct {
	site  Site
	to    io.Writer
	line  []byte
	words map[string]string
}

// tableBlock is how much is written at once, bytes.
const tableBlock = 64 << 10

func (r *Record) table(w io.Writer) *table {
	return &table{site: r.Site, to: w, line: append(make([]byte, 0, tableBlock+4096), strings.Join(columns[:], ",")+"\n"...), words: map[string]string{}}
}

func (t *table) row(row Row) error {
	t.line = row.Measured.UTC().AppendFormat(t.line, time.RFC3339Nano)
	t.line = append(t.line, ',')
	t.line = t.site.Local(row.Measured).AppendFormat(t.line, "2006-01-02T15:04:05.999999999-07:00")
	t.cells(row.Batch, row.Piece, string(row.Placement), row.Probe)
	t.number(row.Value, true)
	t.cells(row.UnitName(), row.Quality.String(), row.SourceName())
	t.number(row.Sent, row.Corrected)
	t.line = append(t.line, '\n')
	if len(t.line) >= tableBlock {
		return t.flush()
	}
	return nil
}

func (t *table) end() error { return t.flush() }

func (t *table) flush() error {
	_, err := t.to.Write(t.line)
	t.line = t.line[:0]
	return err
}

func (t *table) cells(texts ...string) {
	for _, text := range texts {
		word, known := t.words[text]
		if !known {
			word = quoted(plain(text))
			t.words[text] = word
		}
		t.line = append(append(t.line, ','), word...)
	}
}

// number writes a value; one that is no number, as of a broken wire, is left empty.
func (t *table) number(v float64, known bool) {
	t.line = append(t.line, ',')
	if known && !math.IsNaN(v) {
		t.line = strconv.AppendFloat(t.line, v, 'f', -1, 64)
	}
}

// quoted is a cell as the CSV library of Go writes it.
func quoted(text string) string {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{text, ""}) // a buffer takes everything
	w.Flush()
	return strings.TrimSuffix(b.String(), ",\n")
}

// Defused is a text for a cell of a spreadsheet: as plain, with its lines.
func Defused(text string) string {
	if cell := plain(text); strings.HasPrefix(cell, "'") && !strings.HasPrefix(text, "'") {
		return "'" + Printable(text)
	}
	return Printable(text)
}

// plain keeps a spreadsheet from running a text as a formula. The leading characters are
// those of the common advice on CSV injection, also behind spaces, which some programs
// take away, and in their wide forms.
func plain(text string) string {
	seen := strings.TrimLeftFunc(text, unicode.IsSpace)
	first, _ := utf8.DecodeRuneInString(seen)
	if seen != "" && strings.ContainsRune("=+-@＝＋－＠", first) || strings.HasPrefix(text, "\t") || strings.HasPrefix(text, "\r") {
		return "'" + oneLine(text)
	}
	return oneLine(text)
}

// Fingerprint returns the SHA-256 of the bytes CSV writes, hex.
func (r *Record) Fingerprint() (string, error) {
	sum := sha256.New()
	if err := r.CSV(sum); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
