package app

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/rehearsal"
	"flitch/process/plans"
	"flitch/process/record"
	"flitch/process/scenario"
)

var update = flag.Bool("update", false, "write the golden records anew")

// told are the nights whose records are kept as they came out.
var told = []string{"01-nutmeg-tuesday", "03-three-short-warms", "06-ember-at-three", "17-two-spoons", "18-sunday-twice", "22-bad-ice"}

// rehearsed runs a night through the real Step and makes its record by what the daemon
// makes records by, as of its end.
func rehearsed(t testing.TB, night string) *record.Record {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "testdata", "scenarios", night+".txt"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := scenario.Parse(string(text))
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.BuiltIn(s.Plan)
	if err != nil {
		t.Fatal(err)
	}
	ran, err := rehearsal.Run(s, plan, nil)
	if err != nil {
		t.Fatal(err)
	}
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	return recordOf(ran, record.Site{Name: "Oddwick Lane Larder", Zone: zone})
}

func recordOf(ran *rehearsal.Report, site record.Site) *record.Record {
	b, places := ran.Ended, ran.Places
	r := &reader{app: &App{clock: NewStepped(ran.To)}, site: site}
	rec := r.said(b)
	rec.Clocks, rec.Estimates, rec.Happenings = doubted(b, ran.To, places, site), b.Estimates(), b.Happenings
	rec.Deviations = append(deviations(rec.Clocks), doseDeviations(b)...)
	for i := range rec.Deviations {
		rec.Deviations[i].Number = i + 1
	}
	for _, o := range ran.Alarms {
		if !concerns(b, o.Subject) {
			continue
		}
		a := record.Alarm{Occurrence: o, LevelName: o.Level.String()}
		for i, m := range ran.Phone {
			if m.Alarm == o.Number {
				a.Messages = append(a.Messages, record.Message{ID: int64(i + 1), Kind: m.Kind, Channel: m.By, Due: m.At, At: m.At, Outcome: alerts.Delivered, Attempts: 1})
			}
		}
		rec.Alarms = append(rec.Alarms, a)
	}
	r.addPapers(rec, b)
	from, to := span(b, ran.To)
	rec.Readings = func(yield func(record.Row) error) error {
		for _, track := range b.Tracks {
			first, last := wanted(b, track, from, to.Add(time.Millisecond))
			list := flagged(b, track, places, to)
			for _, m := range ran.Heard {
				if m.Probe != track.Probe.Probe || m.Measured.Before(first) || !m.Measured.Before(last) {
					continue
				}
				row := counted(track, list, m)
				row.Batch = b.ID
				if err := yield(row); err != nil {
					return err
				}
			}
		}
		for _, e := range b.Doses {
			if err := yield(doseRow(b.ID, e)); err != nil {
				return err
			}
		}
		return nil
	}
	rec.Data = probeData(b, from, to)
	for i := range rec.Data {
		if p := probeIn(places, rec.Data[i].Probe); p != nil {
			rec.Data[i].LastGood, rec.Data[i].Failed = p.LastGood(to), p.InDoubt(b.Started, to)
		}
		rec.Data[i].LeftOut = flagged(b, b.Tracks[i], places, to)
	}
	return rec
}

// A record is read by people: what changes in it is looked at.
func TestGoldenRecords(t *testing.T) {
	for _, night := range told {
		t.Run(night, func(t *testing.T) {
			rec := rehearsed(t, night)
			for _, f := range []api.RecordFile{{Format: "csv"}, {Format: "json"}, {Format: "html"}, {Format: "html", For: record.Self}, {Format: "html", For: record.Customer},
				{Format: "pdf"}, {Format: "pdf", For: record.Customer, Paper: "letter"}, {Format: "xlsx"}, {Format: "xlsx", For: record.Self}} {
				name := fmt.Sprintf("%s.%s.%s", night, orInspector(f.For), f.Format)
				text := said(t, f, bytesOf(t, rec, f))
				if f.Format == "csv" && bytes.Count(text, []byte("\n")) > 500 {
					continue // the other files have its SHA-256
				}
				same(t, filepath.Join("..", "..", "..", "..", "testdata", "records", name), text)
			}
		})
	}
}

func orInspector(r record.Reader) record.Reader {
	if r == "" {
		return record.Inspector
	}
	return r
}

func bytesOf(t testing.TB, rec *record.Record, f api.RecordFile) []byte {
	t.Helper()
	write, err := f.Writer(rec)
	if err != nil {
		t.Fatal(err)
	}
	var first, second bytes.Buffer
	for _, b := range []io.Writer{&first, &second} {
		if err := write(b); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Errorf("%v: the same record gives other bytes the second time", f)
	}
	return first.Bytes()
}

func same(t *testing.T, golden string, text []byte) {
	t.Helper()
	if filepath.Ext(golden) == ".pdf" || filepath.Ext(golden) == ".xlsx" {
		golden += ".txt"
	}
	if *update {
		if err := os.WriteFile(golden, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(text, want) {
		t.Errorf("%s is not as it was; look at the difference after: go test ./cmd/flitch/internal/app -run Golden -update", golden)
	}
}

var (
	spaces = regexp.MustCompile(`[ \x{a0}]+`)
	looks  = regexp.MustCompile(`(?s)<(svg|style).*?</(svg|style)>`)
)

// said is what a file says, as text. Of a page the picture and the style are left out: they
// have golden files of their own.
func said(t testing.TB, f api.RecordFile, file []byte) []byte {
	t.Helper()
	switch f.Format {
	case "html":
		return looks.ReplaceAll(file, nil)
	case "pdf":
		cmd := exec.CommandContext(context.Background(), "pdftotext", "-layout", "-", "-")
		cmd.Stdin = bytes.NewReader(file)
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("pdftotext (Debian: poppler-utils): %v", err)
		}
		return spaces.ReplaceAll(out, []byte(" "))
	case "xlsx":
		return sheets(t, file)
	}
	return file
}

// sheets are the cells of a workbook, but for the readings, of which there is their number.
func sheets(t testing.TB, file []byte) []byte {
	t.Helper()
	book, err := excelize.OpenReader(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	var out strings.Builder
	for _, name := range book.GetSheetList() {
		raw, err := book.GetRows(name, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "== %s\n", name)
		shown := func(n int) bool { return n < len(raw) } // blank rows at the end are none
		if len(raw) > 100 {
			fmt.Fprintf(&out, "%d rows\n", len(raw))
			shown = func(n int) bool { return n < 3 || n == len(raw)-1 }
		}
		for _, row := range shownRows(t, book, name, shown) {
			fmt.Fprintln(&out, strings.TrimRight(strings.Join(row, " | "), " |"))
		}
	}
	return []byte(out.String())
}

// shownRows are the rows of a sheet that are shown. Of the others no cell is put into its
// format: for the dates of thousands of readings that takes the library most of a minute.
func shownRows(t testing.TB, book *excelize.File, sheet string, shown func(n int) bool) (list [][]string) {
	t.Helper()
	rows, err := book.Rows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for n := 0; rows.Next(); n++ {
		row, err := rows.Columns(excelize.Options{RawCellValue: !shown(n)})
		if err != nil {
			t.Fatal(err)
		}
		if shown(n) {
			list = append(list, row)
		}
	}
	return list
}
