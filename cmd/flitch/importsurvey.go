package main

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/readout"
	"flitch/process/record"
)

// A survey is what a whole file holds.
type survey struct {
	rows        int64
	first       []readout.Row // as many as are shown
	from, to    time.Time
	least, most float64
	backward    int64 // rows that are older than one before them
	twice       int
	refused     refusals
	sum         string // SHA-256, hex
	size        int64  // bytes
}

// rowsShown of a file, for a person to compare with what the logger's own program shows.
const rowsShown = 3

// survey reads the whole file once and takes nothing.
func (c importCommand) survey(t terminal, file *os.File, layout readout.Layout) (*survey, error) {
	s := &survey{}
	sum := sha256.New()
	in, err := readout.NewReader(io.TeeReader(file, sum), layout)
	if err != nil {
		return nil, misuse("the columns, the format and the zone as they are", "%s: %v", c.File, err)
	}
	now := t.now()
	for {
		row, err := in.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		no, one := errors.AsType[*readout.Refused](err)
		switch {
		case err != nil && !one:
			return nil, problem("a CSV with one row a line", "%s: %v", c.File, err)
		case one:
			s.refused.add(*no)
		case row.At.After(now):
			s.refused.add(ahead(row))
		default:
			s.add(row)
		}
	}
	s.twice = in.Twice()
	s.sum = hex.EncodeToString(sum.Sum(nil))
	if s.size, err = file.Seek(0, io.SeekCurrent); err == nil {
		_, err = file.Seek(0, io.SeekStart)
	}
	return s, err
}

func ahead(row readout.Row) readout.Refused {
	return readout.Refused{Line: row.Line, Why: fmt.Sprintf("%s has not been yet: look at --zone, --time-format and the clock of the logger", row.At.Format(time.RFC3339))}
}

func (s *survey) add(row readout.Row) {
	if s.rows == 0 {
		s.from, s.to, s.least, s.most = row.At, row.At, row.Value, row.Value
	}
	if len(s.first) < rowsShown {
		s.first = append(s.first, row)
	}
	s.rows++
	if row.At.Before(s.to) {
		s.backward++
	} else {
		s.to = row.At
	}
	if row.At.Before(s.from) {
		s.from = row.At
	}
	s.least, s.most = min(s.least, row.Value), max(s.most, row.Value)
}

// print says how the file was understood.
func (s *survey) print(w io.Writer, c importCommand, l readout.Layout, p api.Probe) {
	unit := record.UnitOf(p.Placement)
	fmt.Fprintf(w, "%s: columns parted by %s, time from %s as %s", c.File, readout.DelimiterName(l.Delimiter), strings.Join(l.Time, " and "), l.Format)
	if l.Zone != nil {
		fmt.Fprintf(w, " in %s", l.Zone)
	}
	fmt.Fprintf(w, ", value from %s in %s\n", l.Value, nonEmpty(l.Unit, "no unit"))
	fmt.Fprintf(w, "probe %s, %s of %s\n", p.Probe, p.Placement, p.Place)
	for _, row := range s.first {
		fmt.Fprintf(w, "  line %d: %s  %s\n", row.Line, row.At.Format("2006-01-02 15:04:05 MST"), amount(row.Value, unit))
	}
	if s.rows > 0 {
		fmt.Fprintf(w, "%s, %s to %s, %s to %s\n", count64(s.rows, "row"), s.from.Format("2006-01-02 15:04:05"), s.to.Format("2006-01-02 15:04:05 MST"),
			amount(s.least, unit), amount(s.most, unit))
	}
	if s.backward > 0 {
		fmt.Fprintf(w, "note: %s older than one before\n", count64(s.backward, "row"))
	}
	if s.twice > 0 {
		fmt.Fprintf(w, "note: %s in an hour that came twice, told apart by their order\n", count(s.twice, "row"))
	}
	s.refused.print(w, c.Refused == "")
}

func amount(v float64, unit string) string {
	return strings.TrimSpace(strconv.FormatFloat(v, 'f', 2, 64) + " " + unit)
}

func nonEmpty(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// refusals are the rows that are not taken: all are counted, and some are kept to be
// shown.
type refusals struct {
	n    int64
	some []readout.Refused
}

// refusalsShown of a file; proposal, a screen.
const refusalsShown = 10

func (r *refusals) add(no readout.Refused) {
	r.n++
	if len(r.some) < refusalsShown {
		r.some = append(r.some, no)
	}
}

func (r *refusals) print(w io.Writer, hint bool) {
	if r.n == 0 {
		return
	}
	fmt.Fprintf(w, "%s not taken:\n", count64(r.n, "row"))
	slices.SortFunc(r.some, func(a, b readout.Refused) int { return a.Line - b.Line }) // the daemon answers later
	for _, no := range r.some {
		fmt.Fprintf(w, "  line %d: %s\n", no.Line, no.Why)
	}
	if more := r.n - int64(len(r.some)); more > 0 {
		fmt.Fprintf(w, "  and %d more", more)
		if hint {
			fmt.Fprint(w, "; all of them with --refused FILE")
		}
		fmt.Fprintln(w)
	}
}

// A refusedFile keeps every row that was not taken.
type refusedFile struct {
	file *os.File
	out  *csv.Writer
}

// newRefusedFile opens the file; without a path everything written is forgotten.
func newRefusedFile(path string) (*refusedFile, error) {
	if path == "" {
		return &refusedFile{}, nil
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, problem("a file that is not there yet", "--refused: %v", err)
	}
	f := &refusedFile{file: file, out: csv.NewWriter(file)}
	return f, f.out.Write([]string{"line", "why", "row"})
}

func (f *refusedFile) add(no readout.Refused) {
	if f.out != nil {
		_ = f.out.Write([]string{strconv.Itoa(no.Line), no.Why, no.Text}) // close tells
	}
}

func (f *refusedFile) close() error {
	if f.out == nil {
		return nil
	}
	f.out.Flush()
	return errors.Join(f.out.Error(), f.file.Close())
}
