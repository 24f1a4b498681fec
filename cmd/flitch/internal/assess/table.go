package assess

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// records gives the records of a CSV one by one, with the line each begins in. The
// record is good until the next. A *csv.ParseError is of one record only.
type records interface {
	next() (record []string, line int, err error)
}

// csvRecords are those of a CSV whose fields may run over lines, as a note may.
type csvRecords struct{ in *csv.Reader }

func newRecords(r io.Reader) csvRecords {
	in := csv.NewReader(r)
	in.FieldsPerRecord, in.ReuseRecord, in.TrimLeadingSpace = -1, true, true
	return csvRecords{in}
}

func (c csvRecords) next() ([]string, int, error) {
	record, err := c.in.Read()
	if torn, ok := errors.AsType[*csv.ParseError](err); ok {
		return nil, torn.StartLine, err
	}
	if len(record) == 0 {
		return nil, 0, err
	}
	line, _ := c.in.FieldPos(0)
	return record, line, err
}

// rowLines are those of a logger, one a line: a quote left open must not swallow the
// rows that follow it.
type rowLines struct {
	lines  *bufio.Scanner
	line   int
	record []string
}

// longestLine of a logger's file, in bytes: more is no row.
const longestLine = 1 << 20

func newRowLines(r io.Reader) *rowLines {
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, longestLine)
	return &rowLines{lines: lines}
}

func (r *rowLines) next() ([]string, int, error) {
	for r.lines.Scan() {
		r.line++
		text := r.lines.Text()
		switch {
		case text == "":
			continue
		case strings.Contains(text, `"`):
			record, _, err := newRecords(strings.NewReader(text)).next()
			return record, r.line, err
		}
		r.record = r.record[:0]
		for more := true; more; {
			var field string
			field, text, more = strings.Cut(text, ",")
			r.record = append(r.record, field)
		}
		return r.record, r.line, nil
	}
	if err := r.lines.Err(); err != nil {
		return nil, r.line + 1, fmt.Errorf("line %d: %w: write one row a line", r.line+1, err)
	}
	return nil, r.line + 1, io.EOF
}

// table reads a CSV with a header and hands each line to take by column name. A
// header without one of the wanted columns is an error; a line that take refuses
// is left out.
func table(file string, in records, wanted []string, take func(line int, get func(column string) string) error) ([]Left, error) {
	head, _, err := in.next()
	if err != nil {
		return nil, fmt.Errorf("%s: no header: %w; the first line names the columns: %s", file, err, strings.Join(wanted, ","))
	}
	columns := map[string]int{}
	for i, name := range head {
		columns[strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))] = i
	}
	for _, name := range wanted {
		if _, ok := columns[name]; !ok {
			return nil, fmt.Errorf("%s: there is no column %q; the first line names the columns: %s", file, name, strings.Join(wanted, ","))
		}
	}
	var left []Left
	var record []string
	get := func(column string) string { // one for all lines: there may be a million
		if i, ok := columns[column]; ok && i < len(record) {
			return strings.TrimSpace(record[i])
		}
		return ""
	}
	for {
		var line int
		record, line, err = in.next()
		if errors.Is(err, io.EOF) {
			return left, nil
		}
		torn := err
		if _, one := errors.AsType[*csv.ParseError](err); err != nil && !one {
			return left, fmt.Errorf("%s: %w", file, err)
		}
		if err = take(line, get); torn != nil {
			err = torn // take saw an empty line
		}
		if err != nil {
			left = append(left, Left{file, line, err.Error()})
		}
	}
}

// Years in which a batch can have been. A clock that was never set, or a slip of a
// digit, is no time; over three centuries a duration overflows.
const firstYear, lastYear = 1970, 2199

func readTime(text string) (time.Time, error) {
	at, err := time.Parse(time.RFC3339, text)
	if at = at.UTC(); err != nil || at.Year() < firstYear || at.Year() > lastYear {
		return time.Time{}, fmt.Errorf("time %q: write 2031-04-07T12:00:00Z", text)
	}
	return at, nil
}
