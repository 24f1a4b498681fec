package api

import (
	"cmp"
	"fmt"
	"io"
	"net/url"
	"slices"

	"flitch/process"
	"flitch/process/record"
	"flitch/process/record/pdf"
	"flitch/process/record/workbook"
)

// A RecordFile is in which form a record is wanted.
type RecordFile struct {
	Format string        // csv, xlsx, pdf, html or json
	For    record.Reader // empty: an inspector
	Paper  string        // of a PDF: a4, also when empty, or letter
}

// recordAsked reads what a request asks for: for and paper.
func recordAsked(format string, q url.Values) RecordFile {
	return RecordFile{Format: format, For: record.Reader(q.Get("for")), Paper: q.Get("paper")}
}

// Check refuses what there is not. The error is a *process.Refusal.
func (f RecordFile) Check() error {
	switch {
	case paperKinds["record."+f.Format] == "":
		return &process.Refusal{What: fmt.Sprintf("a record in the format %q cannot be made", f.Format), Hint: "say csv, xlsx, pdf, html or json"}
	case f.For != "" && !slices.Contains(record.Readers(), f.For):
		return &process.Refusal{What: fmt.Sprintf("a record for %q cannot be made", f.For), Hint: "say for inspector, customer or self"}
	case f.For == record.Customer && (f.Format == "csv" || f.Format == "json"):
		return &process.Refusal{What: f.Format + " holds everything, also what goes on inside", Hint: "for a customer take pdf, html or xlsx"}
	}
	if err := pdf.Check(f.Paper); err != nil {
		return &process.Refusal{What: err.Error(), Hint: "leave it out for a4"}
	}
	return nil
}

// Writer returns what writes the record in that form. The error is a *process.Refusal, or
// of the readings.
func (f RecordFile) Writer(rec *record.Record) (func(io.Writer) error, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	switch f.Format {
	case "csv":
		return rec.CSV, nil
	case "json":
		return rec.JSON, nil
	}
	p, err := rec.Paper(cmp.Or(f.For, record.Inspector))
	if err != nil {
		return nil, err
	}
	return map[string]func(io.Writer) error{
		"html": p.HTML,
		"pdf":  func(w io.Writer) error { return pdf.Write(w, p, f.Paper) },
		"xlsx": func(w io.Writer) error { return workbook.Write(w, p) },
	}[f.Format], nil
}
