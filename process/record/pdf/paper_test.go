package pdf

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"flitch/process"
	"flitch/process/record"
)

var dawn = time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)

// sample is a batch with notes.
func sample(notes ...string) *record.Record {
	r := &record.Record{Site: record.Site{Name: "Oddwick Lane Larder"}, MadeAt: dawn.Add(48 * time.Hour),
		Head: record.Head{Product: "Dry-cured belly", Class: process.NotFullyCooked, Batch: "OL-31-09", By: "T.V.", Started: dawn,
			Plan: record.PlanVersion{Name: "belly-dry-cured", Version: 1, Hash: strings.Repeat("ab", 32)}, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}},
		Clocks: []process.Clock{{Name: process.ClockCure, Rule: "7 days at 4 °C", Source: "common practice", Limit: 7, AtLeast: true, Sum: 2, Unit: "d", Running: true, From: dawn}},
		Stages: []record.Stage{{Name: process.StageCure, Entered: dawn, Typed: dawn, By: "T.V."}}}
	for i, note := range notes {
		at := dawn.Add(time.Duration(i) * time.Minute)
		r.Entries = append(r.Entries, record.Entry{Kind: process.CommandNote, Happened: at, Typed: at, By: "T.V.", Text: note})
	}
	r.Readings = func(yield func(record.Row) error) error {
		for i := range 500 {
			at := dawn.Add(time.Duration(i) * 5 * time.Minute)
			if err := yield(record.Row{Measured: at, Received: at, Batch: "OL-31-09", Placement: process.Product, Probe: "slow", Value: 3 + float64(i%10)/10}); err != nil {
				return err
			}
		}
		return nil
	}
	return r
}

func file(t testing.TB, r *record.Record, reader record.Reader, size string) []byte {
	t.Helper()
	p, err := r.Paper(reader)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Write(&b, p, size); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// poppler runs one of the tools of poppler-utils over a file.
func poppler(t testing.TB, pdf []byte, tool string, args ...string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), tool, args...)
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s (Debian: poppler-utils): %v %s", tool, err, out)
	}
	return string(out)
}

func words(text string) string { return strings.Join(strings.Fields(text), "") }

func TestThePagesSayWhatTheFormsSay(t *testing.T) {
	r := sample("turned and looked")
	for _, reader := range record.Readers() {
		pdf := file(t, r, reader, "a4")
		text := words(poppler(t, pdf, "pdftotext", "-layout", "-", "-"))
		p, err := r.Paper(reader)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range p.Forms {
			if !strings.Contains(text, words(f.Title)) {
				t.Errorf("%s: no %q on the paper", reader, f.Title)
			}
			if title := append([]byte{0xfe, 0xff}, wide(f.Title)...); !bytes.Contains(pdf, title) {
				t.Errorf("%s: no bookmark for %q", reader, f.Title)
			}
		}
		if !strings.Contains(text, p.Fingerprint) {
			t.Errorf("%s: the fingerprint is not on the paper", reader)
		}
	}
}

// wide is a title as a bookmark holds it.
func wide(text string) (out []byte) {
	for _, u := range utf16.Encode([]rune(text)) {
		out = append(out, byte(u>>8), byte(u))
	}
	return out
}

func TestEveryPageSaysWhichOfHowMany(t *testing.T) {
	for size, mm := range map[string]string{"": "595.28 x 841.89 pts (A4)", "a4": "595.28 x 841.89 pts (A4)", "letter": "612 x 792 pts (letter)"} {
		pdf := file(t, sample(strings.Repeat("a note. ", 30)), record.Inspector, size)
		info := poppler(t, pdf, "pdfinfo", "-")
		if !strings.Contains(info, mm) {
			t.Errorf("paper %q: %s", size, info)
		}
		pages, err := strconv.Atoi(regexp.MustCompile(`Pages: +(\d+)`).FindStringSubmatch(info)[1])
		if err != nil || pages < 3 {
			t.Fatalf("%d pages, %v", pages, err)
		}
		for n := 1; n <= pages; n++ {
			text := poppler(t, pdf, "pdftotext", "-f", strconv.Itoa(n), "-l", strconv.Itoa(n), "-", "-")
			if want := fmt.Sprintf("page %d of %d", n, pages); !strings.Contains(text, want) {
				t.Errorf("paper %q: page %d does not say %q", size, n, want)
			}
		}
	}
	p, err := sample().Paper(record.Inspector)
	if err != nil {
		t.Fatal(err)
	}
	if err := Write(&bytes.Buffer{}, p, "papyrus"); err == nil {
		t.Error("a record on papyrus was made")
	}
}

func TestTheCustomersRecordIsOnePage(t *testing.T) {
	r := sample()
	for range 9 {
		r.Clocks = append(r.Clocks, r.Clocks[0])
	}
	if info := poppler(t, file(t, r, record.Customer, "letter"), "pdfinfo", "-"); !strings.Contains(info, "Pages:           1\n") {
		t.Error(info)
	}
}

// Names of any script stand on the paper, or are spelled out and that is said.
func TestNamesOfAnyScript(t *testing.T) {
	r := sample("Ελένη Иван Հայկ ნინო Łukasz", "דנה כהן", "مريم", "李 नीना", "gone\x00 \u202eback")
	pdf := file(t, r, record.Inspector, "a4")
	text := poppler(t, pdf, "pdftotext", "-layout", "-", "-")
	text = strings.NewReplacer("\u202b", "", "\u202c", "").Replace(text)
	for _, want := range []string{"Ελένη Иван Հայկ ნინო Łukasz", "דנה כהן", "[U+674E]", "gone[U+0000] [U+202E]back", "hold letters that this paper has no letters for"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the paper", want)
		}
	}
	for _, line := range strings.Split(poppler(t, pdf, "pdffonts", "-"), "\n")[2:] {
		if line != "" && !strings.Contains(line, "yes no  yes") { // embedded, mapped to Unicode
			t.Errorf("a font is not embedded, or its text cannot be searched: %s", line)
		}
	}
	if plain := poppler(t, file(t, sample("plain"), record.Inspector, "a4"), "pdftotext", "-", "-"); strings.Contains(plain, "has no letters for") {
		t.Error("letters are said to be missing where none is")
	}
}

var box = regexp.MustCompile(`<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">`)

// However long a note is, all of it is on the paper, and inside its margins.
func TestLongTextsStayOnThePaper(t *testing.T) {
	for _, note := range []string{strings.Repeat("x", 2000), strings.Repeat("a word or two ", 143), strings.Repeat("line\n", 400), strings.Repeat("שלום ", 400)} {
		pdf := file(t, sample("before", note, "after"), record.Inspector, "letter")
		text := poppler(t, pdf, "pdftotext", "-layout", "-", "-")
		for _, piece := range []string{"x", "word", "line", "שלום"} {
			if want := strings.Count(note, piece); strings.Count(text, piece) < want {
				t.Errorf("%.20q: %d of %d %q are on the paper", note, strings.Count(text, piece), want, piece)
			}
		}
		found := box.FindAllStringSubmatch(poppler(t, pdf, "pdftotext", "-bbox", "-", "-"), -1)
		if len(found) < 100 {
			t.Fatalf("%d words", len(found))
		}
		for _, m := range found {
			left, right, bottom := number(t, m[1]), number(t, m[3]), number(t, m[4])
			if left < 39 || right > 612-38 || bottom > 792-20 {
				t.Fatalf("%.20q: a word from %g to %g, down to %g, leaves the paper", note, left, right, bottom)
			}
		}
	}
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// A table that goes on has its head on each page, and no page has but one row of it.
func TestTablesGoOnWithTheirHeads(t *testing.T) {
	for rows := 30; rows < 90; rows += 3 {
		notes := make([]string, rows)
		for i := range notes {
			notes[i] = fmt.Sprintf("note-%03d", i)
		}
		pages := strings.Split(poppler(t, file(t, sample(notes...), record.Inspector, "a4"), "pdftotext", "-layout", "-", "-"), "\f")
		found := 0
		for _, page := range pages {
			n := strings.Count(page, "note-")
			found += n
			if n > 0 && !strings.Contains(page, "Happened") {
				t.Errorf("%d rows: a page of %d has no head", rows, n)
			}
			if n == 1 {
				t.Errorf("%d rows: a page with one row of a table", rows)
			}
		}
		if found != rows {
			t.Errorf("%d of %d rows are on the paper", found, rows)
		}
	}
}

func TestSameRecordSamePaper(t *testing.T) {
	r := sample("one", "שלום 李")
	if a, b := file(t, r, record.Inspector, "a4"), file(t, r, record.Inspector, "a4"); !bytes.Equal(a, b) {
		t.Error("the same record gives other bytes")
	}
}
