package assess

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
)

// records gives the records of a CSV one by one, with the line each begins in. The
// record is good until the next. A *csv.ParseError is of one record only.
type records interface {
	Next() (record []string, line int, err error)
}

// csvRecords are those of a CSV whose fields may run over lines, as a note may.
type csvRecords struct{ in *csv.Reader }

func newRecords(r io.Reader) csvRecords {
	in := csv.NewReader(r)
	in.FieldsPerRecord, in.ReuseRecord, in.TrimLeadingSpace = -1, true, true
	return csvRecords{in}
}

// Next implements records.
func (c csvRecords) Next() ([]string, int, error) {
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

// inRecords is what columns are called in the CSV of our own records, which is read too.
var inRecords = map[string]string{"time_utc": "time"}

// table reads a CSV with a header and hands each line to take by column name. A
// header without one of the wanted columns is an error; a line that take refuses
// is left out.
func table(file string, in records, wanted []string, take func(line int, get func(column string) string) error) ([]Left, error) {
	head, _, err := in.Next()
	if err != nil {
		return nil, fmt.Errorf("%s: no header: %w; the first line names the columns: %s", file, err, strings.Join(wanted, ","))
	}
	columns := map[string]int{}
	for i, name := range head {
		name = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))
		if other := inRecords[name]; other != "" {
			name = other
		}
		columns[name] = i
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
		record, line, err = in.Next()
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
