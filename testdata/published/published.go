// Package published holds check tables: numbers from outside this project, or
// computed by a second method, that the models must reproduce. Each row names
// its source and how it was obtained (column provenance). Only tests import it.
//
// A test opens a Report for its package, checks tables, and closes it; Close
// compares what was found with the package's part of README.md, or writes that
// part when the tests run with -update:
//
//	go test -p 1 ./process ./process/cure ./process/growth ./process/heat ./process/hold ./process/lethality ./process/rules ./ingest/signal ./ingest/sensor ./ingest/decode/sparkplug -update
package published

import (
	"embed"
	"encoding/csv"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"testing"
)

//go:embed *.csv
var files embed.FS

// A Table is one check table.
type Table struct {
	Name string
	Rows []Row

	columns map[string]int
}

// A Row is one line of a table.
type Row struct {
	table *Table
	line  int
	cells []string
}

// Names returns the names of all tables, sorted.
func Names() ([]string, error) {
	names, err := fs.Glob(files, "*.csv")
	if err == nil && len(names) == 0 {
		err = fmt.Errorf("no check tables found")
	}
	return names, err
}

// Read reads a table. A table without rows, without a source or without a known
// provenance is an error.
func Read(name string) (*Table, error) {
	f, err := files.Open(name)
	if err != nil {
		return nil, fmt.Errorf("check table: %w", err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("check table %s: %w", name, err)
	}
	if len(records) < 2 {
		return nil, fmt.Errorf("check table %s: no rows", name)
	}
	t := &Table{Name: name, columns: map[string]int{}}
	for i, c := range records[0] {
		t.columns[c] = i
	}
	for i, cells := range records[1:] {
		t.Rows = append(t.Rows, Row{table: t, line: i + 2, cells: cells})
	}
	return t, t.sourced()
}

// provenances are the ways a number may have come here: read in the source;
// computed by a second method; remembered; or common practice without a source.
var provenances = [...]string{"seen", "computed", "memory", "common practice"}

func (t *Table) sourced() error {
	for _, c := range []string{"source", "provenance"} {
		if !t.Has(c) {
			return fmt.Errorf("check table %s: no column %s", t.Name, c)
		}
	}
	for _, r := range t.Rows {
		if p := r.cell("provenance"); !slices.Contains(provenances[:], p) {
			return fmt.Errorf("%s: provenance %q is none of %q", r.Where(), p, provenances)
		}
		if r.cell("source") == "" {
			return fmt.Errorf("%s: no source", r.Where())
		}
	}
	return nil
}

// Has reports whether the table has the column.
func (t *Table) Has(column string) bool {
	_, ok := t.columns[column]
	return ok
}

// distinct returns the different cells of a column in the order they appear.
func (t *Table) distinct(column string) []string {
	var out []string
	for _, r := range t.Rows {
		if c := r.cell(column); !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	return out
}

// Where names the row for a message.
func (r Row) Where() string { return fmt.Sprintf("%s:%d", r.table.Name, r.line) }

func (r Row) cell(column string) string {
	if i, ok := r.table.columns[column]; ok {
		return r.cells[i]
	}
	return ""
}

// Text returns a cell. A missing column fails the test.
func (r Row) Text(t testing.TB, column string) string {
	t.Helper()
	if !r.table.Has(column) {
		t.Fatalf("%s: no column %s", r.Where(), column)
	}
	return r.cell(column)
}

// Num returns a cell as a number; "inf" is one. Anything else fails the test.
func (r Row) Num(t testing.TB, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r.Text(t, column), 64)
	if err != nil {
		t.Fatalf("%s: column %s: %v", r.Where(), column, err)
	}
	return v
}

// NumOr returns a cell as a number, or other when the cell is empty.
func (r Row) NumOr(t testing.TB, column string, other float64) float64 {
	t.Helper()
	if r.Text(t, column) == "" {
		return other
	}
	return r.Num(t, column)
}

// A Tolerance is how far a model may be from a table.
type Tolerance struct {
	Size     float64
	Relative bool
}

// Abs is a tolerance in the unit of the value.
func Abs(size float64) Tolerance { return Tolerance{Size: size} }

// Rel is a tolerance as a part of the value; around zero it is one in the unit.
func Rel(size float64) Tolerance { return Tolerance{Size: size, Relative: true} }

func (tol Tolerance) String() string {
	if tol == (Tolerance{}) {
		return "right or wrong"
	}
	kind := "absolute"
	if tol.Relative {
		kind = "relative"
	}
	return fmt.Sprintf("%.2g %s", tol.Size, kind)
}

// off is the error of got against want, in the sense of the tolerance.
func (tol Tolerance) off(got, want float64) float64 {
	if got == want {
		return 0
	}
	d := math.Abs(got - want)
	if tol.Relative && want != 0 {
		d /= math.Abs(want)
	}
	if math.IsNaN(d) {
		return math.Inf(1)
	}
	return d
}
