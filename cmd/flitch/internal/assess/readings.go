package assess

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/ingest/signal"
	"flitch/process"
)

// A Left is one row that was left out, and why.
type Left struct {
	File string `json:"file"` // "readings" or "events"
	Line int    `json:"line"` // of the file, from 1
	Why  string `json:"why"`
}

// A row is one reading of the file.
type row struct {
	line    int
	reading process.Reading
	place   process.Placement
}

// table reads a CSV with a header and hands each line to take by column name. A
// header without one of the wanted columns is an error; a line that take refuses
// is left out.
func table(file string, r io.Reader, wanted []string, take func(line int, get func(column string) string) error) ([]Left, error) {
	in := csv.NewReader(r)
	in.FieldsPerRecord, in.ReuseRecord, in.TrimLeadingSpace = -1, true, true
	head, err := in.Read()
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
		record, err = in.Read()
		if errors.Is(err, io.EOF) {
			return left, nil
		}
		line := lineOf(in, record, err)
		if err == nil {
			err = take(line, get)
		}
		if err != nil {
			if _, torn := errors.AsType[*csv.ParseError](err); !torn && record == nil {
				return left, fmt.Errorf("%s: %w", file, err)
			}
			left = append(left, Left{file, line, err.Error()})
		}
	}
}

// lineOf is the line a record begins in, or the one in which it is torn.
func lineOf(in *csv.Reader, record []string, err error) int {
	if torn, ok := errors.AsType[*csv.ParseError](err); ok {
		return torn.StartLine
	}
	if len(record) == 0 {
		return 0
	}
	line, _ := in.FieldPos(0)
	return line
}

// readReadings reads the logger's file and puts it in order of time. A reading
// that stands twice is taken once; two that disagree are both left out, because
// nobody knows which is true.
func readReadings(r io.Reader) ([]row, []Left, error) {
	var rows []row
	names := newNames()
	left, err := table("readings", r, []string{"time", "placement", "value", "unit"}, func(line int, get func(string) string) error {
		next, err := names.readRow(get)
		if err != nil {
			return err
		}
		next.line = line
		if len(rows) == cap(rows) { // twice as many: append alone adds a quarter, and copies the file five times
			rows = slices.Grow(rows, len(rows)+leastRows)
		}
		rows = append(rows, next)
		return nil
	})
	if err != nil {
		return nil, left, err
	}
	slices.SortStableFunc(rows, func(a, b row) int {
		return cmp.Or(a.reading.Measured.Compare(b.reading.Measured), strings.Compare(a.reading.Probe, b.reading.Probe))
	})
	rows, doubled := once(rows)
	return rows, append(left, doubled...), nil
}

// leastRows is the room for rows to begin with.
const leastRows = 4096

// names holds each name once. A name that is cut out of its line would keep the
// text of the whole line in memory, for each line of the file.
type names struct {
	places []process.Placement
	probes map[string]string
}

func newNames() names { return names{process.Placements(), map[string]string{}} }

func (n names) place(text string) (process.Placement, error) {
	i := slices.Index(n.places, process.Placement(text))
	if i < 0 {
		return "", fmt.Errorf("placement %q: one of %v", text, n.places)
	}
	return n.places[i], nil
}

func (n names) probe(text string) string {
	name, ok := n.probes[text]
	if !ok {
		name = strings.Clone(text)
		n.probes[name] = name
	}
	return name
}

func (n names) readRow(get func(string) string) (row, error) {
	at, err := time.Parse(time.RFC3339, get("time"))
	if err != nil {
		return row{}, fmt.Errorf("time %q: write 2031-04-07T12:00:00Z", get("time"))
	}
	place, err := n.place(get("placement"))
	if err != nil {
		return row{}, err
	}
	value, err := readValue(place, get("value"), get("unit"))
	if err != nil {
		return row{}, err
	}
	probe := string(place)
	if name := get("probe"); name != "" {
		probe = n.probe(name)
	}
	reading := process.Reading{Probe: probe, Measured: at.UTC(), Received: at.UTC(), Value: value}
	if reason, ok := signal.Check(value, string(place)); !ok {
		reading.Quality, reading.Reason = process.Bad, reason
	}
	return row{reading: reading, place: place}, nil
}

// readValue reads a number with a decimal point and turns temperatures into °C.
func readValue(place process.Placement, text, unit string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("value %q: write a number with a decimal point", text)
	}
	if !place.IsTemperature() {
		return v, nil
	}
	switch strings.TrimPrefix(strings.ToUpper(unit), "°") {
	case "C":
		return v, nil
	case "F":
		return (v - 32) / 1.8, nil
	case "K":
		return v - 273.15, nil
	}
	return 0, fmt.Errorf("unit %q of a temperature: C, F or K", unit)
}

// once drops repeats from sorted rows. What it keeps takes the place of the rows,
// never before they were looked at.
func once(rows []row) (kept []row, left []Left) {
	kept = rows[:0]
	for i := 0; i < len(rows); {
		j, same := i+1, true
		for ; j < len(rows) && rows[j].reading.Probe == rows[i].reading.Probe && rows[j].reading.Measured.Equal(rows[i].reading.Measured); j++ {
			same = same && rows[j].reading.Value == rows[i].reading.Value
		}
		for k := i; k < j; k++ {
			switch {
			case same && k == i:
				kept = append(kept, rows[k])
			case same:
				left = append(left, Left{"readings", rows[k].line, fmt.Sprintf("the same as line %d", rows[i].line)})
			default:
				left = append(left, Left{"readings", rows[k].line, "another value for the same probe and time: neither is taken"})
			}
		}
		i = j
	}
	return kept, left
}
