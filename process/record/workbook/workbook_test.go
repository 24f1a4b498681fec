package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"flitch/process"
	"flitch/process/record"
)

var dawn = time.Date(2031, 10, 25, 22, 0, 0, 0, time.UTC) // the clocks go back in the night

const rows = 500

// sample has bad names and notes, a gap and a reading that is no number.
func sample(t testing.TB) *record.Record {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	r := &record.Record{Site: record.Site{Name: "=cmd()", Zone: zone}, MadeAt: dawn.Add(48 * time.Hour),
		Head:   record.Head{Product: "Dry-cured belly", Class: process.NotFullyCooked, Batch: "OL-31-09", By: "T.V.", Started: dawn, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}},
		Clocks: []process.Clock{{Name: process.ClockCure, Rule: "7 days at 4 °C", Limit: 7, AtLeast: true, Sum: 2, Unit: "d", Running: true, From: dawn}},
		Stages: []record.Stage{{Name: process.StageCure, Entered: dawn, Typed: dawn, By: "T.V."}}}
	for _, note := range []string{"=1+1", "@SUM(A1)", "-3 after the rinse", "+1", "  =2", "bell\a and \u202eturned", "שלום 中文 🔥", "two\nlines", "_x0041_", strings.Repeat("long ", 400), "<b>&amp;\"'"} {
		r.Entries = append(r.Entries, record.Entry{Kind: process.CommandNote, Happened: dawn, Typed: dawn, By: note[:1], Text: note})
	}
	r.Readings = func(yield func(record.Row) error) error {
		for i := range rows {
			at := dawn.Add(time.Duration(i) * 5 * time.Minute)
			row := record.Row{Measured: at, Received: at, Batch: "OL-31-09", Piece: "=A", Placement: process.Product, Probe: "slow", Value: 3 + float64(i%10)/10}
			if i > 200 && i < 260 {
				row.Measured = at.Add(6 * time.Hour)
			}
			if err := yield(row); err != nil {
				return err
			}
		}
		return nil
	}
	return r
}

func file(t testing.TB, reader record.Reader, most int) []byte {
	t.Helper()
	p, err := sample(t).Paper(reader)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := write(&b, p, most); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func open(t testing.TB, book []byte) *excelize.File {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(book))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

func TestNumbersAreNumbersAndMomentsMoments(t *testing.T) {
	f := open(t, file(t, record.Inspector, rowsASheet))
	for cell, want := range map[string]string{"A2": "48146.916666", "B2": "48147", "H2": "3", "H3": "3.1"} {
		got, err := f.GetCellValue("Readings", cell, excelize.Options{RawCellValue: true})
		if err != nil || !strings.HasPrefix(got, want) {
			t.Errorf("%s is %q, want %s: %v", cell, got, want, err)
		}
		if kind, err := f.GetCellType("Readings", cell); err != nil || kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber {
			t.Errorf("%s is of the type %v, %v", cell, kind, err)
		}
	}
	if got, _ := f.GetCellValue("Clocks", "D2"); got != "2031-10-26 00:00 CEST" {
		t.Errorf("a moment is shown as %q", got)
	}
	all, err := f.GetRows("Readings", excelize.Options{RawCellValue: true})
	if err != nil || len(all) != rows+1 {
		t.Fatalf("%d rows, %v", len(all), err)
	}
	if offset := all[1][2] + " " + all[40][2]; offset != "+02:00 +01:00" {
		t.Errorf("offsets %s: an hour that comes twice is not told apart", offset)
	}
}

func TestHeadsAreFrozenAndTheChartIsReal(t *testing.T) {
	book := file(t, record.Inspector, rowsASheet)
	f := open(t, book)
	p, err := sample(t).Paper(record.Inspector)
	if err != nil {
		t.Fatal(err)
	}
	for _, form := range p.Forms {
		if form.Facts || form.Graph {
			continue
		}
		panes, err := f.GetPanes(form.Name)
		if err != nil || !panes.Freeze || panes.YSplit != 1 {
			t.Errorf("sheet %s: the head is not frozen: %+v, %v", form.Name, panes, err)
		}
	}
	chart := part(t, book, "xl/charts/chart1.xml")
	for _, want := range []string{"scatterChart", "Temperatures data&#39;!$A$2:$A$", "Temperatures data&#39;!$B$1", `dispBlanksAs val="gap"`, `srgbClr val="1A1A1A"`} {
		if !strings.Contains(chart, want) {
			t.Errorf("the chart has no %s", want)
		}
	}
	points, err := f.GetRows("Temperatures data")
	if err != nil || len(points) < 100 {
		t.Fatalf("%d points of the chart, %v", len(points), err)
	}
	gaps := 0
	for _, row := range points[1:] {
		if len(row) == 0 {
			gaps++
		}
	}
	if gaps == 0 {
		t.Error("the chart has no gap where nothing was told")
	}
}

func part(t *testing.T, book []byte, name string) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(book), int64(len(book)))
	if err != nil {
		t.Fatal(err)
	}
	r, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Readings that do not fit go on in further sheets, and each but the last says so.
func TestMoreRowsThanASheetHolds(t *testing.T) {
	f := open(t, file(t, record.Inspector, 201))
	total := 0
	for i, name := range []string{"Readings", "Readings 2", "Readings 3"} {
		all, err := f.GetRows(name)
		if err != nil {
			t.Fatal(err)
		}
		total += len(all) - 1
		said := strings.Join(all[0], " ")
		if goesOn := strings.Contains(said, "goes on in the sheet Readings "+strconv.Itoa(i+2)); goesOn != (i < 2) {
			t.Errorf("the head of %s says %q", name, said)
		}
	}
	if total != rows || len(f.GetSheetList()) < 20 {
		t.Errorf("%d rows in all", total)
	}
}

func TestACustomerGetsNoReadings(t *testing.T) {
	for _, sheet := range open(t, file(t, record.Customer, rowsASheet)).GetSheetList() {
		if strings.HasPrefix(sheet, "Readings") || strings.HasPrefix(sheet, "Temperature") {
			t.Errorf("a customer gets the sheet %q", sheet)
		}
	}
}

func TestSameRecordSameWorkbook(t *testing.T) {
	first := file(t, record.Inspector, 201)
	for range 5 { // maps are walked in another order each time
		if !bytes.Equal(first, file(t, record.Inspector, 201)) {
			t.Fatal("the same record gives other bytes")
		}
	}
}

// LibreOffice opens the file, and what it saves as CSV is what was put in: numbers with
// their digits, moments, and no text that would be a formula.
func TestLibreOfficeReadsTheSame(t *testing.T) {
	folder := t.TempDir()
	book := filepath.Join(folder, "record.xlsx")
	if err := os.WriteFile(book, file(t, record.Inspector, rowsASheet), 0o600); err != nil {
		t.Fatal(err)
	}
	// 44 comma, 34 quote, 76 UTF-8; values as shown, every sheet to a file of its own
	filter := "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
	cmd := exec.CommandContext(t.Context(), "soffice", "--headless", "-env:UserInstallation=file://"+filepath.Join(folder, "profile"), "--convert-to", filter, "--outdir", folder, book)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("soffice (Debian: libreoffice-calc-nogui): %v %s", err, out)
	}
	readings := table(t, folder, "Readings")
	if len(readings) != rows+1 || strings.Join(readings[1], ",") != "2031-10-25 22:00:00,2031-10-26 00:00:00,+02:00,OL-31-09,'=A,product,slow,3,°C,good,measured," {
		t.Errorf("%d rows, the first %q", len(readings), readings[1])
	}
	at := 0
	err := sample(t).EachReading(func(row record.Row) error {
		at++
		if got, err := strconv.ParseFloat(readings[at][7], 64); err != nil || got < row.Value-1e-9 || got > row.Value+1e-9 || readings[at][0] != row.Measured.Format("2006-01-02 15:04:05") {
			t.Errorf("row %d: %q, want %g at %s", at, readings[at], row.Value, row.Measured)
		}
		return nil
	})
	if err != nil || at != rows {
		t.Errorf("%d rows, %v", at, err)
	}
	notes := table(t, folder, "Entries")
	for i, e := range sample(t).Entries {
		if want := record.Defused("note\n" + e.Text); notes[i+1][1] != want {
			t.Errorf("a note is %q, want %q", notes[i+1][1], want)
		}
		if want := record.Defused(e.By); notes[i+1][2] != want {
			t.Errorf("initials are %q, want %q", notes[i+1][2], want)
		}
	}
	if clocks := table(t, folder, "Clocks"); clocks[1][3] != "2031-10-26 00:00:00" {
		t.Errorf("a moment is shown as %q", clocks[1][3])
	}
}

func table(t *testing.T, folder, sheet string) [][]string {
	t.Helper()
	text, err := os.Open(filepath.Join(folder, "record-"+sheet+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer text.Close()
	r := csv.NewReader(text)
	r.FieldsPerRecord = -1
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("sheet %s: %d rows, %v", sheet, len(all), err)
	}
	return all
}
