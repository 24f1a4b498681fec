package readout

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"flitch/process"
)

// A Layout says how a file is to be read.
type Layout struct {
	Delimiter rune
	Heading   int      // line of the column heads; 0: there is none, columns are numbers
	Time      []string // columns, by head or by number from 1; several are joined by a space
	Value     string   // column
	Decimal   string   // "." or ","
	Format    string   // of the time, see NewClock
	Zone      *time.Location
	Unit      string
	Placement process.Placement
}

// Delimiters are those that a file may have.
var Delimiters = map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t'}

// DelimiterName is the word for a delimiter.
func DelimiterName(r rune) string {
	for name, d := range Delimiters {
		if d == r {
			return name
		}
	}
	return string(r)
}

// A Look is the beginning of a file, for a person to say what is in it.
type Look struct {
	Delimiter rune     // that parts the heads into the most columns
	Heads     []string // as in the file, cleaned
	First     []string // the row after them
}

// lookAt bounds how much of a file is looked at, in bytes.
const lookAt = 1 << 16

// LookAt reads the heads of the columns in a line of the file; 0 is a file without them.
// A delimiter of 0 is to be found.
func LookAt(r io.Reader, heading int, delimiter rune) (Look, error) {
	data, err := io.ReadAll(io.LimitReader(r, lookAt))
	if err != nil {
		return Look{}, err
	}
	if err := isText(data); err != nil {
		return Look{}, err
	}
	lines := bytes.Split(data, []byte("\n"))
	if len(lines) > 1 && len(data) == lookAt {
		lines = lines[:len(lines)-1] // cut off
	}
	at := max(heading, 1) - 1
	if at >= len(lines) || len(bytes.TrimSpace(lines[at])) == 0 {
		return Look{}, fmt.Errorf("line %d is not there or empty", at+1)
	}
	look := Look{Delimiter: delimiter}
	if delimiter == 0 {
		look.Delimiter = mostColumns(string(lines[at]))
	}
	look.Heads = look.fields(lines[at])
	if heading > 0 && at+1 < len(lines) {
		look.First = look.fields(lines[at+1])
	}
	return look, nil
}

func (l Look) fields(line []byte) []string {
	record, _, err := NewRows(bytes.NewReader(line), l.Delimiter).Next()
	if err != nil {
		return nil
	}
	fields := make([]string, len(record))
	for i, field := range record {
		fields[i] = clean(field)
	}
	return fields
}

func clean(field string) string {
	return strings.TrimSpace(strings.ToValidUTF8(strings.TrimPrefix(field, "\ufeff"), "?"))
}

// mostColumns is the delimiter that a line has most of.
func mostColumns(line string) rune {
	best := ','
	for _, d := range []rune{';', '\t'} {
		if strings.Count(line, string(d)) > strings.Count(line, string(best)) {
			best = d
		}
	}
	return best
}

// isText refuses what cannot be a table of text.
func isText(data []byte) error {
	switch {
	case len(data) == 0:
		return fmt.Errorf("the file is empty")
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return fmt.Errorf("the file is UTF-16: save it as UTF-8 (iconv -f UTF-16 -t UTF-8)")
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return fmt.Errorf("the file is a workbook or an archive, not a CSV: export it as CSV")
	case bytes.IndexByte(data, 0) >= 0:
		return fmt.Errorf("the file is not text: export it as CSV")
	}
	return nil
}

// column finds a column by its head or its number.
func (l Layout) column(name string, heads []string) (int, error) {
	var found []int
	for i, head := range heads {
		if l.Heading > 0 && strings.EqualFold(head, strings.TrimSpace(name)) {
			found = append(found, i)
		}
	}
	if len(found) == 1 {
		return found[0], nil
	}
	if len(found) > 1 {
		return 0, fmt.Errorf("%d columns are called %q: name the one by its number, from 1", len(found), name)
	}
	if n, err := strconv.Atoi(name); err == nil && n >= 1 && n <= len(heads) {
		return n - 1, nil
	}
	return 0, fmt.Errorf("there is no column %q: the columns are %s", name, Numbered(heads))
}

// Numbered lists columns with their numbers.
func Numbered(heads []string) string {
	parts := make([]string, len(heads))
	for i, head := range heads {
		parts[i] = fmt.Sprintf("%d %q", i+1, short(head))
	}
	return strings.Join(parts, ", ")
}

// short keeps a field from filling the screen.
func short(text string) string {
	const most = 40
	if utf8.RuneCountInString(text) > most {
		return string([]rune(text)[:most]) + "..."
	}
	return text
}

// columns finds those of the times and of the value.
func (l Layout) columns(heads []string) (times []int, value int, err error) {
	for _, name := range l.Time {
		i, err := l.column(name, heads)
		if err != nil {
			return nil, 0, err
		}
		times = append(times, i)
	}
	if value, err = l.column(l.Value, heads); err == nil && slices.Contains(times, value) {
		err = fmt.Errorf("column %q is both the time and the value", l.Value)
	}
	return times, value, err
}
