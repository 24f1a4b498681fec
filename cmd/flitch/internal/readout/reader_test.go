package readout

import (
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

var plainLayout = Layout{Delimiter: ',', Heading: 1, Time: []string{"time"}, Value: "temp", Decimal: ".", Format: Unix, Unit: "C", Placement: process.Product}

func all(t *testing.T, text string, l Layout) (rows []Row, refused []string) {
	t.Helper()
	in, err := NewReader(strings.NewReader(text), l)
	if err != nil {
		t.Fatal(err)
	}
	for {
		row, err := in.Next()
		no, one := errors.AsType[*Refused](err)
		switch {
		case errors.Is(err, io.EOF):
			return rows, refused
		case one:
			refused = append(refused, no.Error())
		case err != nil:
			t.Fatal(err)
		default:
			rows = append(rows, row)
		}
	}
}

func TestAFileOfALogger(t *testing.T) {
	text := "\ufeffMade by a logger\r\nSerial;17\r\n\r\nDate;Time;\"Probe 1 (°F)\";Probe 1 (°F);\r\n" +
		"07.04.2031;13:00:00;38,0;39,2;\r\n07.04.2031;13:05:00;;39,2\r\n07.04.2031;13:10:00;\"1;5\r\n07.04.2031\r\n\r\n07.04.2031;13:15:00;3.8;1.5\r\n07.04.2031;13:20:00;-0,4;\"41,0\";x\r\n07.04.2031;13:25:00;x;1.234,5\r\n"
	l := Layout{Delimiter: ';', Heading: 4, Time: []string{"date", "TIME"}, Value: "4", Decimal: ",", Format: "DD.MM.YYYY hh:mm:ss", Zone: time.UTC, Unit: "F", Placement: process.Product}
	rows, refused := all(t, text, l)
	at := time.Date(2031, 4, 7, 13, 0, 0, 0, time.UTC)
	want := []Row{{5, at, 4}, {6, at.Add(5 * time.Minute), 4}, {11, at.Add(20 * time.Minute), 5}}
	if len(rows) != len(want) {
		t.Fatalf("rows %+v, refused %q", rows, refused)
	}
	for i, r := range rows {
		if r.Line != want[i].Line || !r.At.Equal(want[i].At) || r.Value < want[i].Value-1e-9 || r.Value > want[i].Value+1e-9 {
			t.Errorf("%+v, want %+v", r, want[i])
		}
	}
	for i, say := range []string{`line 7: parse error`, "line 8: the row has 1 columns", "line 10: value \"1.5\" has a decimal point", "line 12: value \"1.234,5\" has a decimal point"} {
		if i >= len(refused) || !strings.HasPrefix(refused[i], say) {
			t.Errorf("refused %q, want %q", refused, say)
			break
		}
	}
}

func TestColumnsThatCannotBeFound(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		edit func(*Layout)
		say  string
	}{
		"no such head":  {"time,temperature\n", func(*Layout) {}, `there is no column "temp": the columns are 1 "time", 2 "temperature"`},
		"twice":         {"time,temp,temp\n", func(*Layout) {}, `2 columns are called "temp"`},
		"number":        {"a,b\n", func(l *Layout) { l.Time, l.Value = []string{"1"}, "3" }, `there is no column "3"`},
		"zero":          {"a,b\n", func(l *Layout) { l.Time, l.Value = []string{"0"}, "2" }, `there is no column "0"`},
		"both":          {"time,temp\n", func(l *Layout) { l.Value = "time" }, "both the time and the value"},
		"no line":       {"time,temp\n", func(l *Layout) { l.Heading = 9 }, "no line 9"},
		"empty":         {"", func(*Layout) {}, "is empty"},
		"UTF-16":        {"\xff\xfet\x00", func(*Layout) {}, "UTF-16"},
		"zipped":        {"PK\x03\x04abc", func(*Layout) {}, "export it as CSV"},
		"zone and unix": {"time,temp\n", func(l *Layout) { l.Zone = time.UTC }, "leave the zone out"},
	} {
		l := plainLayout
		c.edit(&l)
		if _, err := NewReader(strings.NewReader(c.text), l); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: %v, want %q", name, err, c.say)
		}
	}
	rows, _ := all(t, "1933329600,3.5\n1933329660,3.6\n", Layout{Delimiter: ',', Time: []string{"1"}, Value: "2", Decimal: ".", Format: Unix, Unit: "C", Placement: process.Air})
	if len(rows) != 2 || rows[0].Line != 1 {
		t.Errorf("without heads: %+v", rows)
	}
}

func TestTheDelimiterIsFound(t *testing.T) {
	for text, want := range map[string]rune{"a,b;c,d": ',', "a;b;c,d": ';', "a\tb\tc,d": '\t', "alone": ','} {
		look, err := LookAt(strings.NewReader(text+"\n1\n"), 1, 0)
		if err != nil || look.Delimiter != want {
			t.Errorf("%q: %q, %v", text, look.Delimiter, err)
		}
	}
	look, err := LookAt(strings.NewReader("x\na,\"b, c\"\n1,2\n"), 2, 0)
	if err != nil || !slices.Equal(look.Heads, []string{"a", "b, c"}) || !slices.Equal(look.First, []string{"1", "2"}) {
		t.Errorf("%+v, %v", look, err)
	}
}

// endless is a file of n rows that nobody has to keep.
type endless struct {
	n, i int
	rest []byte
}

func (e *endless) Read(p []byte) (int, error) {
	if len(e.rest) == 0 {
		if e.i == e.n {
			return 0, io.EOF
		}
		e.rest = fmt.Appendf(e.rest, "%d,3.5\n", 1900000000+e.i)
		e.i++
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

// A million rows are read in the memory of one.
func TestMemoryDoesNotGrowWithTheFile(t *testing.T) {
	l := plainLayout
	l.Heading, l.Time, l.Value = 0, []string{"1"}, "2"
	in, err := NewReader(&endless{n: 1_000_000}, l)
	if err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	n := 0
	for ; ; n++ {
		if _, err := in.Next(); err != nil {
			if !errors.Is(err, io.EOF) {
				t.Fatal(err)
			}
			break
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	if n != 1_000_000 || after.HeapAlloc > before.HeapAlloc+1<<20 {
		t.Errorf("%d rows, heap from %d to %d bytes", n, before.HeapAlloc, after.HeapAlloc)
	}
	runtime.KeepAlive(in)
}

// Whatever the file is: no panic, each line is either a row or refused, and a row has a
// time that can be and a number.
func FuzzReader(f *testing.F) {
	f.Add("time,temp\n1933329600,3.5\n", ",", "unix", 1)
	f.Add("Date;T\n07.04.2031 13:00;\"3,5\n", ";", "DD.MM.YYYY hh:mm", 1)
	f.Add("\ufeff1\t2\n\"a\nb\"\n\n\xff\xfe,", "\t", "rfc3339", 0)
	f.Fuzz(func(t *testing.T, text, delimiter, format string, heading int) {
		l := Layout{Delimiter: ',', Heading: heading, Time: []string{"1"}, Value: "2", Decimal: ".", Format: format, Unit: "C", Placement: process.Core}
		if d := []rune(delimiter); len(d) == 1 && slices.Contains([]rune{',', ';', '\t'}, d[0]) {
			l.Delimiter = d[0]
		}
		if !slices.Contains([]string{RFC3339, Unix, UnixMS}, format) {
			l.Zone = time.UTC
		}
		_, _ = LookAt(strings.NewReader(text), heading, 0)
		in, err := NewReader(strings.NewReader(text), l)
		if err != nil {
			return
		}
		line := 0
		for {
			row, err := in.Next()
			no, one := errors.AsType[*Refused](err)
			switch {
			case one:
				row.Line = no.Line
			case err != nil:
				return
			case row.At.Year() < firstYear || row.At.Year() > lastYear || row.Value != row.Value:
				t.Fatalf("row %+v", row)
			}
			if row.Line <= line {
				t.Fatalf("line %d after %d", row.Line, line)
			}
			line = row.Line
		}
	})
}
