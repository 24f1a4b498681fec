package readout

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"strings"
)

// Rows are those of a logger, one a line: a quote left open must not swallow the rows
// that follow it.
type Rows struct {
	lines     *bufio.Scanner
	delimiter string
	line      int
	record    []string
}

// longestLine of a logger's file, in bytes: more is no row.
const longestLine = 1 << 20

// NewRows reads rows whose fields a delimiter parts.
func NewRows(r io.Reader, delimiter rune) *Rows {
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, longestLine)
	return &Rows{lines: lines, delimiter: string(delimiter)}
}

// Next returns the fields of the next line that is not empty, and its number. They are good
// until the next call. At the end the error is io.EOF; a *csv.ParseError is of one row only.
func (r *Rows) Next() ([]string, int, error) {
	for r.lines.Scan() {
		r.line++
		text := r.lines.Text()
		switch {
		case text == "":
			continue
		case strings.Contains(text, `"`):
			record, err := r.quoted(text)
			return record, r.line, err
		}
		r.record = r.record[:0]
		for more := true; more; {
			var field string
			field, text, more = strings.Cut(text, r.delimiter)
			r.record = append(r.record, field)
		}
		return r.record, r.line, nil
	}
	if err := r.lines.Err(); err != nil {
		return nil, r.line + 1, fmt.Errorf("line %d: %w: write one row a line", r.line+1, err)
	}
	return nil, r.line + 1, io.EOF
}

func (r *Rows) quoted(text string) ([]string, error) {
	in := csv.NewReader(strings.NewReader(text))
	in.Comma, in.FieldsPerRecord, in.TrimLeadingSpace = []rune(r.delimiter)[0], -1, true
	return in.Read()
}
