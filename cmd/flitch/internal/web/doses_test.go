package web

import (
	"net/http"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/cure"
	"flitch/process/record"
)

// curing is a house with a batch of two slabs that lies in its cure.
func curing(said process.Dosing) *house {
	h := sampleHouse()
	h.work = Work{Summary: Summary{ID: "OL-31-40", Product: "Dry-cured belly, smoked", Stage: process.StageCure, Started: night}, Class: process.NotFullyCooked, Open: true, Dosed: true, Said: said,
		Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}, {Name: "B", GreenG: 2268, ThicknessMM: 40, SkinOn: true}},
		Lots:   []DoseLot{{Pieces: []string{"A"}, AskedG: 5.66}, {Pieces: []string{"B"}, AskedG: 5.1}},
		Stages: []process.StageEntry{{Name: process.StageCure, Entered: night}}, CureFrom: night, CureDays: 7, TurnHours: 24, ColdC: 4.444, KeepDays: 7}
	return h
}

var packet = process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us", Method: "dry", Product: "bacon"}

// The doses of all slabs are one form and one command.
func TestTheDosesBecomeOneCommand(t *testing.T) {
	h := curing(packet)
	w := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/doses", "id=x&by=TV&lot=A&cure=5,7&lot=B&cure=5.1+g")
	if w.Code != http.StatusSeeOther || len(h.said) != 1 || w.Header().Get("Location") != "/batches/OL-31-40/doses?done" {
		t.Fatalf("status %d, said %+v", w.Code, h.said)
	}
	c := h.said[0]
	if d := c.Dosing; c.Kind != process.CommandDosed || c.ID != "x-dosed" || c.Batch != "OL-31-40" || len(d.Portions) != 2 || d.Portions[0].CureG != 5.7 ||
		d.Portions[1].CureG != 5.1 || d.Portions[1].Pieces[0] != "B" || d.Nitrite != 0 || d.PPM != 0 {
		t.Errorf("said %+v, %+v", c, c.Dosing)
	}
	h = curing(process.Dosing{})
	post(t, h.page(t, record.Site{}), "/batches/OL-31-40/doses", "id=x&by=TV&lot=A&cure=5.7&lot=B&cure=&nitrite=6.25&ppm=156&rule=us&method=bag")
	if len(h.said) != 1 {
		t.Fatal("not said")
	}
	if d := h.said[0].Dosing; d.Nitrite != 0.0625 || d.PPM != 156 || d.Rule != "us" || d.Method != string(cure.Dry) || len(d.Portions) != 1 {
		t.Errorf("said %+v", d)
	}
}

func TestEachSlipOfADoseIsToldBesideItsField(t *testing.T) {
	for form, want := range map[string]string{
		"lot=A&cure=&lot=B&cure=":                  `id="why-cure-A">Type what was weighed`,
		"lot=A&cure=NaN":                           `id="why-cure-A">`,
		"lot=A&cure=1tsp&lot=B&cure=5.1":           `id="why-cure-A">nitrite is not dosed by the spoon`,
		"lot=A&cure=5.7&lot=B&cure=-1":             `id="why-cure-B">`,
		"lot=A&cure=5.7&when=yesterday":            `id="why-when">`,
		"lot=A&cure=5.7&nitrite=strong&unsaid=yes": `id="why-nitrite">`,
	} {
		h := curing(packet)
		if strings.Contains(form, "unsaid") {
			h = curing(process.Dosing{})
		}
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/doses", "id=x&by=TV&"+form)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) || len(h.said) != 0 {
			t.Errorf("%s: %d, said %+v, want %s", form, w.Code, h.said, want)
		}
	}
	h := curing(packet)
	h.answer = &process.Refusal{What: "A has a dose already", Hint: "say why"}
	body := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/doses", "id=x&by=TV&lot=A&cure=5.9&lot=B&cure=5.2").Body.String()
	has(t, body, "A has a dose already", `name="cure" value="5.9"`, `name="cure" value="5.2"`)
}

func TestThePageOfTheDosesShowsTheirChecks(t *testing.T) {
	h := curing(packet)
	p := h.page(t, record.Site{})
	body := get(t, p, "/batches/OL-31-40/doses").Body.String()
	has(t, body, "Slab A: weigh 5.7 g", "Packet with 6.25 % nitrite, limits: us (United States)", "156 ppm asked", "poison")
	if strings.Contains(body, `name="nitrite"`) {
		t.Error("the packet is asked for twice")
	}
	h.work.Doses = []process.DoseEntry{{Pieces: []string{"A"}, CureG: 57, AskedG: 5.7, PPM: 1571, By: "T.V.", At: night, Checks: []cure.Check{cure.CheckSlip(5.7, 57)}}}
	has(t, get(t, p, "/batches/OL-31-40/doses").Body.String(), "57 g weighed, 5.7 g asked, 1571 ppm", "<strong>held</strong>", "a decimal point has slipped", "The next stage is refused")
	h.work.Said = process.Dosing{}
	has(t, get(t, p, "/batches/OL-31-40/doses").Body.String(), `name="nitrite"`, `name="rule"`, `name="method"`)
	h.work.Stage = process.StageSmoke
	if body := get(t, p, "/batches/OL-31-40/doses").Body.String(); strings.Contains(body, `name="cure"`) {
		t.Error("a batch in the smoke is asked for its dose")
	}
	if w := get(t, p, "/batches/nothing/doses"); w.Code != http.StatusNotFound {
		t.Errorf("status %d for a batch that is not there", w.Code)
	}
}

func TestThePageOfABatchShowsTheDoses(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	if body := get(t, p, "/batches/OL-31-09").Body.String(); strings.Contains(body, "Cure weighed") {
		t.Error("a batch in the smoke is asked for its dose")
	}
	h.glances[0].Doses = &Doses{Missing: []string{"B"}, Entries: []process.DoseEntry{{Pieces: []string{"A"}, CureG: 5.7, PPM: 157}}}
	has(t, get(t, p, "/batches/OL-31-09").Body.String(), "Cure weighed", "5.7 g, 157 ppm: met", "<strong>B</strong> no cure was logged", `href="/batches/OL-31-09/doses"`)
}
