package record

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// A Form is one table of a record, as pages, sheets and papers show it alike. Its texts
// can be printed: control characters are spelled out.
type Form struct {
	Name    string // short, without / \ ? * [ ] :, at most 31 letters: the name of a sheet
	Title   string
	Source  string // whose form it is; empty: nobody's
	Columns []string
	Rows    [][]Cell // as many cells as columns
	None    string   // said where there is no row
	Notes   []string // under the table

	Facts bool // two columns, what and how it is, without a head
	Graph bool // it is a graph of the temperatures, of the part of the batch in View; no rows
	View  View
	Blank bool // cells to be filled in with a pen
}

// A Cell is one field of a form.
type Cell struct {
	Text   string    // as it is printed
	Value  float64   // of a number, in the unit of its column
	Digits int       // behind the point, of a number
	At     time.Time // of a moment, in the zone of the site
	Kind   CellKind
	Strong bool
	Struck bool // but for its last line: an entry that was struck out
}

// CellKind says what a cell is, where a paper can tell.
type CellKind uint8

// The kinds of cells.
const (
	Words CellKind = iota
	Number
	Moment
	Day
)

// text is a cell of words. Lines of it stay apart.
func text(s string) Cell { return Cell{Text: Printable(s)} }

func strong(s string) Cell { return Cell{Text: Printable(s), Strong: true} }

func lines(all ...string) Cell {
	return text(strings.Join(slices.DeleteFunc(all, func(s string) bool { return s == "" }), "\n"))
}

func count(n int64) Cell {
	return Cell{Text: strconv.FormatInt(n, 10), Value: float64(n), Kind: Number}
}

func amount(v float64, digits int) Cell {
	return Cell{Text: fixed(v, digits), Value: v, Digits: digits, Kind: Number}
}

// temp is a temperature given in °C, in a column that names the unit of the site.
func (s Site) temp(c float64) Cell { return amount(s.Degrees(c), 1) }

// when is a moment; the zero time is an empty cell.
func (s Site) when(t time.Time) Cell {
	if t.IsZero() {
		return Cell{}
	}
	return Cell{Text: s.Stamp(t), At: s.Local(t), Kind: Moment}
}

// day is a day of the site.
func (s Site) day(t time.Time) Cell {
	return Cell{Text: s.Local(t).Format("Mon 2 Jan 2006"), At: s.Local(t), Kind: Day}
}

// dash stands where a clock or a stage has not got so far.
func (c Cell) or(text string) Cell {
	if c.Text == "" {
		c.Text = text
	}
	return c
}

// add appends a row.
func (f *Form) add(cells ...Cell) { f.Rows = append(f.Rows, cells) }

// fact appends a line of a form of facts, unless nothing is known of it.
func (f *Form) fact(name string, value Cell) {
	if value.Text != "" {
		f.add(text(name), value)
	}
}

// recorded takes out the columns in which nothing stands and names them under the form,
// so that a reader sees what the trade's form asks and nobody entered. Nothing is filled
// in for anybody. Wanted are names of fields for which there is no column at all.
func (f *Form) recorded(wanted ...string) {
	if len(f.Rows) == 0 {
		return
	}
	var empty []string
	for i := len(f.Columns) - 1; i >= 0; i-- {
		if slices.ContainsFunc(f.Rows, func(row []Cell) bool { return row[i].Text != "" }) {
			continue
		}
		empty = append(empty, f.Columns[i])
		f.Columns = slices.Delete(slices.Clone(f.Columns), i, i+1)
		for r := range f.Rows {
			f.Rows[r] = slices.Delete(slices.Clone(f.Rows[r]), i, i+1)
		}
	}
	slices.Reverse(empty)
	if empty = append(empty, wanted...); len(empty) > 0 {
		f.Notes = append(f.Notes, "Not recorded: "+strings.Join(empty, ", ")+".")
	}
}
