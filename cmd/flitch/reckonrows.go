package main

import (
	"encoding/csv"
	"errors"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/cmd/flitch/internal/reckon"
	"fmt"
	"io"
	"slices"
	"strings"
)

// A sheet is a column file with its answers.
type sheet struct {
	head   []string
	unused []string // heads that are no keys
	rows   []sheetRow
	left   []leftOut
}

// A sheetRow is one question with its answer.
type sheetRow struct {
	Line   int           `json:"line"`
	Answer reckon.Answer `json:"answer"`
	cells  []string
}

// leftOut is a line that could not be read, and why.
type leftOut struct {
	Line int    `json:"line"`
	Why  string `json:"why"`
}

// rows answers a column file, line by line.
func (c reckonCommand) rows(t terminal, calc reckon.Calculator) error {
	same, err := reckon.PairsOf(c.Given)
	if err != nil {
		return err
	}
	file, err := openFile(c.Rows)
	if err != nil {
		return problem("--rows FILE", "%v", err)
	}
	defer file.Close()
	s, err := readSheet(file, calc, same, heads{skip: c.Skip, as: c.As})
	if err != nil {
		return quantity.Within("--rows", c.Rows, err)
	}
	if c.JSON {
		err = writeJSON(t.out, struct {
			Rows    []sheetRow `json:"rows"`
			LeftOut []leftOut  `json:"left_out"`
			Unused  []string   `json:"columns_not_used"`
		}{s.rows, s.left, s.unused})
	} else {
		err = s.write(t.out)
	}
	if err != nil {
		return err
	}
	return c.complaint(t, s)
}

// complaint names what of the file was not used, and is an error when that is a line.
func (c reckonCommand) complaint(t terminal, s *sheet) error {
	if len(s.unused) > 0 {
		fmt.Fprintf(t.err, "%s: columns not used: %s\n", c.Rows, shown(strings.Join(s.unused, ", ")))
	}
	if len(s.rows)+len(s.left) == 0 {
		return problem("a question a line, behind the line with the keys", "--rows %s: there is no line behind the first", c.Rows)
	}
	if len(s.left) == 0 {
		return nil
	}
	for _, l := range s.left {
		fmt.Fprintf(t.err, "%s:%d: left out: %s\n", c.Rows, l.Line, shown(l.Why))
	}
	return problem("the lines named, corrected", "%d of %s left out", len(s.left), count(len(s.rows)+len(s.left), "row"))
}

func readSheet(file io.Reader, calc reckon.Calculator, same []reckon.Pair, say heads) (*sheet, error) {
	lines := csv.NewReader(file)
	lines.FieldsPerRecord = -1
	head, err := lines.Read()
	if err != nil {
		return nil, misuse("a first line with keys, as "+strings.Join(calc.KeyNames(), ","), "no first line: %v", err)
	}
	head[0] = strings.TrimPrefix(head[0], "\ufeff")
	s := &sheet{head: head, rows: []sheetRow{}, left: []leftOut{}, unused: []string{}}
	columns, unused, err := columnsOf(head, calc, say)
	if err != nil {
		return nil, err
	}
	s.unused = append(s.unused, unused...)
	for i, col := range columns {
		if slices.ContainsFunc(same, func(p reckon.Pair) bool { return p.Key == col.key }) {
			return nil, misuse("--skip '"+head[i]+"', or the column alone", "%s is a column and given besides", col.key)
		}
	}
	for {
		cells, err := lines.Read()
		if err == io.EOF {
			return s, nil
		}
		if err := s.take(lines, cells, err, columns, calc, same); err != nil {
			return nil, err
		}
	}
}

// take answers one line, or leaves it out. Only a file that cannot be read on ends
// the run.
func (s *sheet) take(lines *csv.Reader, cells []string, err error, columns []column, calc reckon.Calculator, same []reckon.Pair) error {
	if bad, ok := errors.AsType[*csv.ParseError](err); ok {
		s.left = append(s.left, leftOut{Line: bad.Line, Why: bad.Err.Error()})
		return nil
	}
	if err != nil {
		return problem("a file that can be read", "%v", err)
	}
	line, _ := lines.FieldPos(0)
	if len(cells) != len(columns) {
		s.left = append(s.left, leftOut{line, fmt.Sprintf("%d cells, the first line has %d", len(cells), len(columns))})
		return nil
	}
	a, err := calc.Answer(append(pairsOfCells(columns, cells), same...))
	if err != nil {
		s.left = append(s.left, leftOut{line, err.Error()})
		return nil
	}
	s.rows = append(s.rows, sheetRow{Line: line, Answer: a, cells: cells})
	return nil
}

// write prints the file with the result columns behind its own.
func (s *sheet) write(out io.Writer) error {
	var columns []string
	for _, row := range s.rows {
		for _, r := range row.Answer.Results {
			if !slices.Contains(columns, columnHead(r)) {
				columns = append(columns, columnHead(r))
			}
		}
	}
	w := csv.NewWriter(out)
	lines := [][]string{slices.Concat(s.head, columns)}
	for _, row := range s.rows {
		lines = append(lines, slices.Concat(row.cells, row.resultCells(columns)))
	}
	return w.WriteAll(lines)
}

func (row sheetRow) resultCells(columns []string) []string {
	cells := make([]string, len(columns))
	for _, r := range row.Answer.Results {
		cells[slices.Index(columns, columnHead(r))] = cell(r)
	}
	return cells
}

// cell is the result as one word for a column file.
func cell(r reckon.Result) string {
	if r.Value == nil {
		return r.Text
	}
	return fmt.Sprintf("%.6g", *r.Value)
}

// columnHead is the result's head in a column file.
func columnHead(r reckon.Result) string {
	name := strings.ReplaceAll(r.Name, " ", "_")
	if r.Unit == "" {
		return name
	}
	return name + " [" + r.Unit + "]"
}
