package record

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

var update = flag.Bool("update", false, "write the golden files anew")

func papers(r *Record) map[string]func(io.Writer) error {
	return map[string]func(io.Writer) error{
		"csv": r.CSV, "json": r.JSON, "html": r.HTML,
		"svg": func(w io.Writer) error { return r.Chart(w, View{Width: 720}) },
	}
}

func written(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestPapersAreAsBefore(t *testing.T) {
	for kind, write := range papers(sample(t)) {
		t.Run(kind, func(t *testing.T) {
			got := written(t, write)
			golden := filepath.Join("..", "..", "testdata", "records", "OL-31-09."+kind)
			if *update {
				if err := os.WriteFile(golden, got, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("%s differs from %s; look at the difference after: go test ./process/record -update", kind, golden)
			}
		})
	}
}

// An inspector finds the four parts in the order of the rule, what is missing, what became
// of the product, and who read it all.
func TestTheRecordTellsWhatWasDoneAboutADeviation(t *testing.T) {
	html := string(written(t, sample(t).HTML))
	at := 0
	for _, want := range []string{"held (come-up, for advice)", "hold for advice", "corrective action no. 1", "open: corrective action without prevention",
		"<h2>Corrective actions</h2>", "ash had blocked the grate", "Relit at 03:31", "<strong>missing</strong>", "Held for evaluation &lt;with the numbers&gt;",
		"not complete: prevention", "<h2>Dispositions</h2>", "A, B", "come-up over 6 h", `src="data:image/jpeg;base64,dGhlIGJ5dGVz`, strings.Repeat("ab", 32),
		"after the review", "Reviewed by</th><td>MO", "Reviewed Wed 18 Nov 2026 09:00 CET"} {
		i := strings.Index(html[at:], want)
		if i < 0 {
			t.Errorf("%q does not stand behind what it follows", want)
			continue
		}
		at += i
	}
	r := sample(t)
	r.Head.Closed, r.Head.End, r.Reviews = at8(), process.Ending{By: "MO", Typed: at8()}, nil
	if html := string(written(t, r.HTML)); !strings.Contains(html, "Waits for review.") || !strings.Contains(html, "Made by</th><td>MO") || !strings.Contains(html, "closed by MO") {
		t.Error("a closed batch without a review does not say so")
	}
}

func at8() time.Time { return at("08:00") }

func TestSameRecordSameBytes(t *testing.T) {
	for kind, write := range papers(sample(t)) {
		if !bytes.Equal(written(t, write), written(t, papers(sample(t))[kind])) {
			t.Errorf("%s: two records of the same batch differ", kind)
		}
	}
}

func TestFingerprintFollowsTheReadings(t *testing.T) {
	r := sample(t)
	before, err := r.Fingerprint()
	if err != nil {
		t.Fatal(err)
	}
	rows := sampleRows()
	rows[3].Value += 0.01
	r.Readings = func(yield func(Row) error) error { return yieldAll(rows, yield) }
	after, err := r.Fingerprint()
	if err != nil {
		t.Fatal(err)
	}
	if before == after {
		t.Error("one reading was changed and the fingerprint stayed the same")
	}
}

func TestCSVHasOneLinePerReading(t *testing.T) {
	lines, err := csv.NewReader(bytes.NewReader(written(t, sample(t).CSV))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if want := len(sampleRows()) + 1; len(lines) != want {
		t.Errorf("%d lines, want %d", len(lines), want)
	}
	if got, want := strings.Join(lines[0], ","), "time_utc,time_local,batch,piece,placement,probe,value,unit,quality,source,sent"; got != want {
		t.Errorf("header %s, want %s", got, want)
	}
	if got, want := lines[1][1], "2026-11-17T21:00:00+01:00"; got != want {
		t.Errorf("local time %s, want %s", got, want)
	}
}

func TestCSVDefusesFormulas(t *testing.T) {
	for _, piece := range []string{"=1+1", "+1", "-1", "@x", "\tx", "\rx"} {
		r := sample(t)
		one := sampleRows()[0]
		one.Piece, one.Value = piece, -3.5
		r.Readings = func(yield func(Row) error) error { return yield(one) }
		lines, err := csv.NewReader(bytes.NewReader(written(t, r.CSV))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if lines[1][3][0] != '\'' {
			t.Errorf("piece %q is written as %q", piece, lines[1][3])
		}
		if lines[1][6] != "-3.5" {
			t.Errorf("value is written as %q, want the plain number -3.5", lines[1][6])
		}
	}
}

func TestJSONNamesLevelAndVerdict(t *testing.T) {
	var got struct {
		Alarms []struct{ Level string }
		Clocks []struct{ Verdict string }
		Site   struct{ Zone, Unit string }
		SHA    string `json:"readings_sha256"`
	}
	if err := json.Unmarshal(written(t, sample(t).JSON), &got); err != nil {
		t.Fatal(err)
	}
	if got.Alarms[0].Level != "ring" || got.Clocks[1].Verdict != "not met" || got.Site.Zone != "Europe/Berlin" || len(got.SHA) != 64 {
		t.Errorf("got %+v", got)
	}
}

func TestHTMLStandsAloneAndClaimsNothing(t *testing.T) {
	text := string(written(t, sample(t).HTML))
	for _, want := range []string{">met<", ">not met<", ">not measured<", ">running<", "Not a validated process", ": not reached", "typed Wed 18 Nov 2026 04:52 CET"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(text, "src="); n != 1 || !strings.Contains(text, `src="data:image/jpeg;base64,`) {
		t.Errorf("%d pictures from elsewhere", n)
	}
	for _, bad := range []string{`<link`, `<script`, `url(`, `@import`, `href="http`} {
		if strings.Contains(text, bad) {
			t.Errorf("the page holds %q: it has to stand alone", bad)
		}
	}
	words := regexp.MustCompile(`(?i)\b(safe|cured|pasteurised|approved)\b`)
	if found := words.FindString(strings.ReplaceAll(text, "Dry-cured belly bacon", "")); found != "" {
		t.Errorf("the page says %q about the product", found)
	}
	if strings.Contains(text, "NaN") {
		t.Error("the page holds NaN")
	}
}

func TestHTMLEscapesWhatPeopleTyped(t *testing.T) {
	r := sample(t)
	r.Head.Batch = `<b>&"'`
	r.Entries[1].Text = "<script>alert(1)</script>"
	r.Limits[1].Name = "<i>"
	rows := sampleRows()
	for i := range rows {
		rows[i].Piece = "</svg><script>"
	}
	r.Readings = func(yield func(Row) error) error { return yieldAll(rows, yield) }
	text := string(written(t, r.HTML))
	for _, bad := range []string{"<script", "<b>", "<i>"} {
		if strings.Contains(text, bad) {
			t.Errorf("the page holds %s unescaped", bad)
		}
	}
}

func TestEmptyRecordIsWritten(t *testing.T) {
	for kind, write := range papers(&Record{MadeAt: at("08:30"), Head: Head{Started: at("08:30")}}) {
		if len(written(t, write)) == 0 {
			t.Errorf("%s: nothing written", kind)
		}
	}
}

func TestErrorOfTheReadingsReachesTheCaller(t *testing.T) {
	broken := errors.New("disk gone")
	r := sample(t)
	r.Readings = func(func(Row) error) error { return broken }
	for kind, write := range papers(r) {
		if err := write(io.Discard); !errors.Is(err, broken) {
			t.Errorf("%s: got %v, want the error of the readings", kind, err)
		}
	}
}

func wellFormed(t *testing.T, picture []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(picture))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("the picture is not well-formed XML: %v", err)
		}
	}
}
