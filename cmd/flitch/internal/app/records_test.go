package app

import (
	"bytes"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/process/record"
)

// A record asked for while the batch runs is right up to its stated moment: every reading
// that was acknowledged before is in it, and none that came after.
func TestARecordOfARunningBatchIsRightUpToItsMoment(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(minute, 0, 30*minute, func(time.Duration) { s.read("slow", 3) })
	rec, err := (&reader{app: s.app, site: s.app.site()}).Record(t.Context(), "PS-02")
	if err != nil {
		t.Fatal(err)
	}
	s.every(minute, 31*minute, 40*minute, func(time.Duration) { s.read("slow", 9) }) // while it is being written
	s.say("shop/slow", `{"t":"2031-05-05T06:10:30Z","v":9}`)                         // a late one too
	var csv, page bytes.Buffer
	if err := rec.CSV(&csv); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(csv.String()), "\n")
	if len(lines) != 1+31 || strings.Contains(csv.String(), ",9,") {
		t.Errorf("%d lines; the last %s", len(lines), lines[len(lines)-1])
	}
	p, err := rec.Paper(record.Self)
	if err != nil {
		t.Fatal(err)
	}
	if err := p.HTML(&page); err != nil {
		t.Fatal(err)
	}
	if want := "right up to Mon 5 May 2031 06:30 UTC"; !strings.Contains(page.String(), want) {
		t.Errorf("the page does not say that it is %s", want)
	}
}

// A batch has its plan in itself: a record needs no plan that is still there.
func TestARecordOfAPlanThatIsGone(t *testing.T) {
	s := newShop(t)
	s.open()
	batch, err := resolve(s.cfg, Request{Plan: raw, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Smoker: "kettle"})
	if err != nil {
		t.Fatal(err)
	}
	batch.Plan.Name, batch.Plan.Version, batch.Plan.Keep.Rule = "grandmother's", 7, "three days on the sill"
	s.must(process.Command{Kind: process.CommandNew, New: &batch})
	for _, f := range []api.RecordFile{{Format: "csv"}, {Format: "json"}, {Format: "html"}, {Format: "html", For: record.Customer}, {Format: "pdf"}, {Format: "xlsx"}} {
		var out bytes.Buffer
		if err := s.app.WriteRecordFile(t.Context(), "PS-02", f, &out); err != nil || out.Len() == 0 {
			t.Fatalf("%v: %d bytes, %v", f, out.Len(), err)
		}
		if f.Format == "html" && f.For == "" && !strings.Contains(out.String(), "grandmother&#39;s, version 7") {
			t.Error("the page does not name the plan")
		}
		if f.For == record.Customer && !strings.Contains(out.String(), "three days on the sill") {
			t.Error("the customer is not told how the plan wants it kept")
		}
	}
	if err := s.app.WriteRecordFile(t.Context(), "never", api.RecordFile{Format: "pdf"}, &bytes.Buffer{}); err == nil || !strings.Contains(err.Error(), "never") {
		t.Errorf("a record of a batch that never was: %v", err)
	}
}

// Whatever is typed stands in every form of the record, and breaks none.
func TestNotesOfAllKindsInEveryForm(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	notes := []string{"=HYPERLINK(1)", "bell\a\x1b[31m \u202eback", "שלום מרחבא 中文 🔥", strings.Repeat("long word ", 199), strings.Repeat("x", 1990), "<script>&amp;</script>", "two\nlines"}
	taken := 0
	for i, note := range notes {
		if err := s.try(process.Command{Kind: process.CommandNote, Text: note, ID: "a-note-of-the-test-" + strconv.Itoa(i)}); err == nil {
			taken++
		}
	}
	s.settle()
	if taken < 5 {
		t.Fatalf("only %d notes were taken", taken)
	}
	for _, format := range []string{"csv", "json", "html", "pdf", "xlsx"} {
		var out bytes.Buffer
		if err := s.app.WriteRecordFile(t.Context(), "PS-02", api.RecordFile{Format: format}, &out); err != nil {
			t.Fatalf("%s: %v", format, err)
		}
		text := string(said(t, api.RecordFile{Format: format}, out.Bytes()))
		if format != "csv" && !strings.Contains(strings.Join(strings.Fields(text), ""), "longwordlongwordlongword") {
			t.Errorf("%s: the long note is not there", format)
		}
		if strings.Contains(text, "<script>") && format != "xlsx" && format != "pdf" {
			t.Errorf("%s: a note is taken for a script", format)
		}
	}
}
