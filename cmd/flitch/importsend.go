package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/readout"
)

// A sending is an import under way. Its memory holds one part of the file.
type sending struct {
	command importCommand
	daemon  *daemon
	by      string
	bar     *progress
	kept    *refusedFile

	part               []readout.Row
	stored, known, bad int64
	refused            refusals
	line               int // all rows up to it were answered
}

// send brings the rows to the daemon, part by part, and then signs the file.
func (c importCommand) send(ctx context.Context, t terminal, d *daemon, file *os.File, layout readout.Layout, s *survey, by string) (err error) {
	kept, err := newRefusedFile(c.Refused)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, kept.close()) }()
	counted := &counter{in: file}
	in, err := readout.NewReader(counted, layout)
	if err != nil {
		return err
	}
	to := &sending{command: c, daemon: d, by: by, bar: newProgress(t, s.size), kept: kept}
	err = to.all(ctx, in, counted)
	to.bar.end()
	if err != nil {
		return to.stopped(err)
	}
	to.print(t.out)
	return to.sign(t.out, s)
}

// all reads the file to its end, or until ctx ends.
func (s *sending) all(ctx context.Context, in *readout.Reader, counted *counter) error {
	for {
		row, err := in.Next()
		if errors.Is(err, io.EOF) {
			return s.flush()
		}
		no, one := errors.AsType[*readout.Refused](err)
		switch {
		case err != nil && !one:
			return err
		case one:
			if no.Line >= s.command.FromLine {
				s.refuse(*no)
			}
			continue
		case row.Line < s.command.FromLine:
			s.line = row.Line
			continue
		}
		if s.part = append(s.part, row); len(s.part) < api.MostRows {
			continue
		}
		if err := s.flush(); err != nil {
			return err
		}
		s.bar.show(counted.n, s.stored+s.known)
		if ctx.Err() != nil {
			return errStopped
		}
	}
}

var errStopped = errors.New("stopped")

func (s *sending) refuse(no readout.Refused) {
	s.refused.add(no)
	s.kept.add(no)
}

// flush sends the part and takes the answer: what is counted then is on disk.
func (s *sending) flush() error {
	if len(s.part) == 0 {
		return nil
	}
	rows := make([][2]float64, len(s.part))
	for i, row := range s.part {
		rows[i] = [2]float64{float64(row.At.UnixMilli()), row.Value}
	}
	var done api.Imported
	if err := s.daemon.post("/api/import", api.ImportRows{Probe: s.command.Probe, By: s.by, Rows: rows}, &done); err != nil {
		return err
	}
	s.stored, s.known, s.bad = s.stored+int64(done.Stored), s.known+int64(done.Known), s.bad+int64(done.Bad)
	for _, no := range done.Refused {
		if no.Row >= 0 && no.Row < len(s.part) {
			s.refuse(readout.Refused{Line: s.part[no.Row].Line, Why: no.Why})
		}
	}
	s.line = s.part[len(s.part)-1].Line
	s.part = s.part[:0]
	return nil
}

// stopped says how to go on.
func (s *sending) stopped(err error) error {
	again := fmt.Sprintf("the same again: what is there is recognised; or from where it stopped: --from-line %d", s.line+1)
	return problem(again, "imported up to line %d, %d new and %d known; then: %v", s.line, s.stored, s.known, err)
}

func (s *sending) print(w io.Writer) {
	fmt.Fprintf(w, "imported %d new, %d were there already", s.stored, s.known)
	if s.bad > 0 {
		fmt.Fprintf(w, "; %d of them no sensor can have measured: kept, never used", s.bad)
	}
	fmt.Fprintln(w)
	s.refused.print(w, s.command.Refused == "")
}

// sign tells the batches who brought which file, and prints which they are.
func (s *sending) sign(w io.Writer, of *survey) error {
	var noted api.Noted
	err := s.daemon.post("/api/import/done", api.ImportDone{Probe: s.command.Probe, By: s.by, File: filepath.Base(s.command.File), SHA256: of.sum,
		Rows: of.rows, From: of.from, To: of.to}, &noted)
	if err != nil {
		return err
	}
	if len(noted.Open) > 0 {
		fmt.Fprintf(w, "counted anew within a minute, and noted on the record: %s\n", strings.Join(noted.Open, ", "))
	}
	if len(noted.Closed) > 0 {
		fmt.Fprintf(w, "closed: the readings are on the record, the clocks stay as they were: %s\n", strings.Join(noted.Closed, ", "))
	}
	if len(noted.Open)+len(noted.Closed) == 0 {
		fmt.Fprintln(w, "no batch was measured with this probe then")
	}
	return nil
}

// A counter counts the bytes that were read.
type counter struct {
	in io.Reader
	n  int64
}

// Read implements io.Reader.
func (c *counter) Read(p []byte) (int, error) {
	n, err := c.in.Read(p)
	c.n += int64(n)
	return n, err
}
