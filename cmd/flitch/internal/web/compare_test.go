package web

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

func compared() *house {
	h := sampleHouse()
	h.batches = nil
	for _, id := range []string{"OL-31-09", "OL-31-08", "OL-31-07", "OL-31-06", "OL-31-05"} {
		s := Summary{ID: id, Product: "Belly", Recipe: "belly-dry-cured", Started: night}
		if id == "OL-31-08" {
			s.Recipe = "ham"
		}
		h.batches = append(h.batches, s)
		h.beside = append(h.beside, Compared{Summary: s, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}})
	}
	first := &h.beside[0]
	first.Pieces = append(first.Pieces, process.Piece{Name: "B", GreenG: 2000, ThicknessMM: 41})
	first.CureDays, first.PPM, first.Turns, first.HasCook, first.Stalled, first.Rang = 7.24, []float64{156, 161}, 6, true, 90*time.Minute, 2
	h.beside[1].PPM, h.beside[1].DoseFails = []float64{1571}, true
	first.Heat = []process.HeatMark{{C: 37.7777, Hours: 1.5, Known: true}, {C: 48.8888}}
	first.Chill = []process.Clock{{Name: process.ClockChillA, Sum: 2.5, Unit: "h", From: night, Verdict: process.Met}, {Name: process.ClockChillB}}
	first.Yield = []process.YieldStep{{Rung: process.RungSmoke, Grams: 3500, Green: 4268}}
	return h
}

var tag = regexp.MustCompile(`<[^>]*>`)

// rowOf is the text of a row of the table, its cells apart by bars.
func rowOf(t *testing.T, body, label string) string {
	t.Helper()
	_, rest, ok := strings.Cut(body, `<th scope="row">`+label+`</th>`)
	row, _, end := strings.Cut(rest, "</tr>")
	if !ok || !end {
		t.Fatalf("no row %q", label)
	}
	return strings.Trim(tag.ReplaceAllString(strings.ReplaceAll(row, "</td>", "|"), ""), "|\n ")
}

// Unasked it is the last three by the plan of the newest; what was not measured says so.
func TestTheLastThreeBesideEachOther(t *testing.T) {
	h := compared()
	body := get(t, h.page(t, record.Site{}), "/compare").Body.String()
	for label, want := range map[string]string{
		"Slabs, green": "2, 4.27 kg|1, 2.27 kg|1, 2.27 kg", "Thickest": "38 to 41 mm|38 mm|38 mm", "Days in cure": "7.2 d|not measured|not measured",
		"Ingoing nitrite": "156 to 161 ppm|not measured|not measured", "Turns": "6|0|0", "Heat to the last core at 37.8 °C": "1 h 30 min|not measured|not measured",
		"Heat to the last core at 48.9 °C": "not measured|not measured|not measured", "Stall, the longest core": "90 min|not measured|not measured",
		"chill A": "2 h 30 min, met|not measured|not measured", "chill B": "not measured|not measured|not measured", "Yield, after smoke": "82.0 %, 3.50 kg|not measured|not measured",
		"Yield, rind": "not measured|not measured|not measured", "Alarms that rang": "2|0|0",
	} {
		if got := rowOf(t, body, label); got != want {
			t.Errorf("%s: %s, want %s", label, got, want)
		}
	}
	if strings.Contains(body, `href="/batches/OL-31-08"`) || !strings.Contains(body, `href="/batches/OL-31-06"`) {
		t.Error("not the last three of one plan")
	}
	has(t, get(t, h.page(t, record.Site{Fahrenheit: true}), "/compare").Body.String(), "Heat to the last core at 100.0 °F")
}

func TestChosenBatchesBesideEachOther(t *testing.T) {
	h := compared()
	p := h.page(t, record.Site{})
	for _, query := range []string{"batches=OL-31-08,OL-31-05", "batches=OL-31-08&batches=OL-31-05"} {
		has(t, get(t, p, "/compare?"+query).Body.String(), "Belly, ham", "1571 ppm, checks not met", `value="OL-31-05" checked`, `href="/batches/new?like=OL-31-08"`)
	}
	has(t, get(t, p, "/compare?batches=OL-31-99").Body.String(), "there is no such batch", "Choose others")
	has(t, get(t, p, "/compare?batches="+strings.Repeat("OL-31-05,OL-31-06,OL-31-07,a,b,c,d,", 2)).Body.String(), "there is no such batch")
	h.batches = nil
	has(t, get(t, p, "/compare").Body.String(), "There is no batch yet.")
}
