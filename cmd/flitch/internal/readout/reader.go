package readout

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// A Row is one value of a file.
type Row struct {
	Line  int
	At    time.Time // UTC, whole milliseconds
	Value float64   // °C, or the unit of the placement
}

// A Refused is a row that cannot be taken.
type Refused struct {
	Line int
	Text string // the row, cut short
	Why  string
}

// Error says which line and why.
func (r *Refused) Error() string { return fmt.Sprintf("line %d: %s", r.Line, r.Why) }

// A Reader reads a file row by row, in a memory that does not grow with it.
type Reader struct {
	layout Layout
	clock  *Clock
	rows   *Rows
	times  []int
	value  int
	most   int // the last column that is wanted
}

// NewReader reads up to the heads and finds the columns.
func NewReader(r io.Reader, layout Layout) (*Reader, error) {
	clock, err := NewClock(layout.Format, layout.Zone)
	if err != nil {
		return nil, err
	}
	buffered := bufio.NewReaderSize(r, lookAt)
	start, _ := buffered.Peek(lookAt) // short at the end of a small file
	if err := isText(start); err != nil {
		return nil, err
	}
	in := &Reader{layout: layout, clock: clock, rows: NewRows(buffered, layout.Delimiter)}
	heads := Look{Delimiter: layout.Delimiter}.fields(start[:lineEnd(start)])
	for line := 0; line < layout.Heading; {
		var record []string
		if record, line, err = in.rows.Next(); err != nil && !isRow(err) {
			return nil, fmt.Errorf("there is no line %d with the heads of columns", layout.Heading)
		}
		heads = heads[:0]
		for _, field := range record {
			heads = append(heads, clean(field))
		}
	}
	if in.times, in.value, err = layout.columns(heads); err != nil {
		return nil, err
	}
	in.most = max(in.value, slices.Max(in.times))
	return in, nil
}

func lineEnd(data []byte) int {
	if i := strings.IndexByte(string(data), '\n'); i >= 0 {
		return i
	}
	return len(data)
}

func isRow(err error) bool {
	_, one := errors.AsType[*csv.ParseError](err)
	return one
}

// Next returns the next row; a *Refused is of one row only, io.EOF is the end.
func (in *Reader) Next() (Row, error) {
	record, line, err := in.rows.Next()
	if err != nil && !isRow(err) {
		return Row{}, err
	}
	if err == nil {
		var row Row
		if row, err = in.read(record); err == nil {
			row.Line = line
			return row, nil
		}
	}
	return Row{}, &Refused{Line: line, Text: short(clean(strings.Join(record, string(in.layout.Delimiter)))), Why: err.Error()}
}

func (in *Reader) read(record []string) (Row, error) {
	if in.most >= len(record) {
		return Row{}, fmt.Errorf("the row has %d columns, and column %d is wanted", len(record), in.most+1)
	}
	text := clean(record[in.times[0]])
	for _, i := range in.times[1:] {
		text += " " + clean(record[i])
	}
	at, err := in.clock.Read(text)
	if err != nil {
		return Row{}, err
	}
	number, err := in.number(clean(record[in.value]))
	if err != nil {
		return Row{}, err
	}
	value, err := Value(in.layout.Placement, number, in.layout.Unit)
	return Row{At: at, Value: value}, err
}

// number brings a number to the decimal point. A separator of thousands is refused by
// whoever reads it then.
func (in *Reader) number(text string) (string, error) {
	switch {
	case text == "":
		return "", errors.New("there is no value")
	case in.layout.Decimal == "," && strings.Contains(text, "."):
		return "", fmt.Errorf("value %q has a decimal point, and a comma was said", text)
	case in.layout.Decimal == ",":
		return strings.Replace(text, ",", ".", 1), nil
	case strings.Contains(text, ","):
		return "", fmt.Errorf("value %q has a comma: if it is the decimal one, say so", text)
	}
	return text, nil
}

// Twice is how many rows were in an hour that came twice.
func (in *Reader) Twice() int { return in.clock.Twice() }
