package assess

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/readout"
	"flitch/ingest/signal"
	"flitch/process"
	"flitch/process/record"
)

// A Left is a line of a file that was not taken, and why.
type Left struct {
	File string `json:"file"` // "readings" or "events"
	Line int    `json:"line"`
	Why  string `json:"why"`
}

// A row is one reading of the file.
type row struct {
	line    int
	reading process.Reading
	of      *source
}

// A logged is what a logger's file holds: the rows that could be read, and what the
// others tell all the same. A row that is left out was written when its probe was
// there, so that its probe and its time count as not seen, and not as never been.
type logged struct {
	rows     []row // in order of time
	sources  sources
	from, to time.Time // of all rows whose time can be read
	newest   time.Time // of the row read last that has a time
	strays   []stray
	left     []Left
}

// readReadings reads the logger's file and puts it in order of time. A reading
// that stands twice is taken once; two that disagree are both left out, because
// nobody knows which is true.
func readReadings(r io.Reader) (*logged, error) {
	l := &logged{sources: newSources()}
	left, err := table("readings", readout.NewRows(r, ','), []string{"time", "placement", "value", "unit"}, l.take)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(l.rows, func(a, b row) int {
		return cmp.Or(a.reading.Measured.Compare(b.reading.Measured), strings.Compare(a.of.probe, b.of.probe))
	})
	l.left = append(left, l.once()...)
	l.strays = append(l.strays, l.sources.settle()...)
	return l, nil
}

// leastRows is the room for rows to begin with.
const leastRows = 4096

// take reads one line. What of it can be read is noted also when it is left out.
func (l *logged) take(line int, get func(string) string) error {
	if !isReading(get("source")) {
		return nil
	}
	at, untimed := readout.Time(get("time"))
	if untimed == nil {
		l.see(at)
	}
	place, err := l.sources.place(get("placement"))
	if err != nil {
		l.strays = append(l.strays, stray{line, l.newest})
		return err
	}
	s := l.sources.of(place, get("probe"))
	if untimed != nil {
		s.timeless = true
		s.lose(line, l.newest)
		return untimed
	}
	s.times = append(s.times, at)
	value, err := readout.Value(place, get("value"), get("unit"))
	if err != nil {
		s.lose(line, at)
		return err
	}
	reading := process.Reading{Probe: s.probe, Measured: at, Received: at, Value: value}
	if reason, ok := signal.Check(value, string(place)); !ok {
		reading.Quality, reading.Reason = process.Bad, reason
	} else if get("quality") == process.Bad.String() {
		reading.Quality, reading.Reason = process.Bad, "bad in the record"
	}
	if len(l.rows) == cap(l.rows) { // twice as many: append alone adds a quarter, and copies the file five times
		l.rows = slices.Grow(l.rows, len(l.rows)+leastRows)
	}
	l.rows = append(l.rows, row{line, reading, s})
	s.read++
	return nil
}

// isReading reports whether a row tells of a probe, by the source that the CSV of a record
// names: what people entered stands among the events. A logger's file names none.
func isReading(source string) bool {
	return source == "" || source == record.Measured || source == record.Imported
}

// see notes a time that the file tells of.
func (l *logged) see(at time.Time) {
	l.newest = at
	if l.from.IsZero() || at.Before(l.from) {
		l.from = at
	}
	if at.After(l.to) {
		l.to = at
	}
}

// once drops repeats from the sorted rows. What it keeps takes the place of the rows,
// never before they were looked at.
func (l *logged) once() (left []Left) {
	rows := l.rows
	l.rows = rows[:0]
	for i := 0; i < len(rows); {
		j, same := i+1, true
		for ; j < len(rows) && rows[j].of == rows[i].of && rows[j].reading.Measured.Equal(rows[i].reading.Measured); j++ {
			same = same && rows[j].reading.Value == rows[i].reading.Value
		}
		for k := i; k < j; k++ {
			switch {
			case same && k == i:
				l.rows = append(l.rows, rows[k])
			case same:
				left = append(left, Left{"readings", rows[k].line, fmt.Sprintf("the same as line %d", rows[i].line)})
			default:
				left = append(left, Left{"readings", rows[k].line, "there is another reading of this probe at this time"})
			}
		}
		i = j
	}
	return left
}

// beginAt drops what was logged before the batch began.
func (l *logged) beginAt(began time.Time) {
	n := 0
	for n < len(l.rows) && l.rows[n].reading.Measured.Before(began) {
		n++
	}
	if n > 0 {
		l.left = append(l.left, Left{"readings", l.rows[0].line, fmt.Sprintf("this and %d more are before the batch began at %s", n-1, began.Format(time.RFC3339))})
	}
	l.rows, l.from = l.rows[n:], began
	l.sources.beginAt(began)
	l.strays = slices.DeleteFunc(l.strays, func(s stray) bool { return s.at.Before(began) })
}
