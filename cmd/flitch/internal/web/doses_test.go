package web

import (
	"net/http"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/record"
)

func TestTheDoseFormBecomesACommand(t *testing.T) {
	h := sampleHouse()
	w := post(t, h.page(t, record.Site{}), "/dosed", "id=x&batch=OL-31-09&by=TV&dosing=yes&where=A&value=5,7&asked=156&nitrite=6.25&rule=us")
	if w.Code != http.StatusSeeOther || len(h.said) != 1 {
		t.Fatalf("status %d, said %+v", w.Code, h.said)
	}
	c := h.said[0]
	d := c.Dosing
	if c.Kind != process.CommandDosed || c.ID != "x-dosed-A" || d == nil || d.Nitrite != 0.0625 || d.PPM != 156 || d.Rule != "us" ||
		len(d.Portions) != 1 || d.Portions[0].CureG != 5.7 || strings.Join(d.Portions[0].Pieces, "+") != "A" {
		t.Errorf("said %+v, %+v", c, d)
	}
	for form, want := range map[string]string{
		"where=A&value=":                  "is not a weight",
		"where=A&value=NaN":               "is not a weight",
		"where=A&value=5.7&nitrite=-1":    "is not a weight",
		"where=A&value=5.7&asked=1e9":     "is not a weight",
		"value=5.7&asked=156&nitrite=6.2": "Say which slab",
	} {
		h := sampleHouse()
		w := post(t, h.page(t, record.Site{}), "/dosed", "batch=OL-31-09&by=TV&dosing=yes&"+form)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) || len(h.said) != 0 {
			t.Errorf("%s: %d, said %+v", form, w.Code, h.said)
		}
	}
}

func TestThePageShowsTheDoses(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	if body := get(t, p, "/batches/OL-31-09").Body.String(); strings.Contains(body, "Cure weighed") {
		t.Error("a batch in the smoke is asked for its dose")
	}
	h.glances[0].Doses = &Doses{Missing: []string{"A", "B"}}
	has(t, get(t, p, "/batches/OL-31-09").Body.String(), "Cure weighed", "<strong>B</strong> no cure was logged", `name="nitrite"`, `name="rule"`)
	h.glances[0].Doses = &Doses{Missing: []string{"B"}, Entries: []process.DoseEntry{{Pieces: []string{"A"}, CureG: 5.7, PPM: 157,
		Said: process.Dosing{Nitrite: 0.0625, Rule: "us"}}}}
	body := get(t, p, "/batches/OL-31-09").Body.String()
	has(t, body, "5.7 g, 157 ppm: met", "Packet with 6.25 % nitrite, limits of us")
	if strings.Contains(body, `name="nitrite"`) {
		t.Error("the packet is asked for twice")
	}
	h.answer = &process.Refusal{What: "A has a dose already", Hint: "say why"}
	body = post(t, p, "/dosed", "batch=OL-31-09&by=TV&dosing=yes&where=A&value=5.9").Body.String()
	has(t, body, "A has a dose already", `value="5.9"`)
	if strings.Count(body, `value="5.9"`) != 1 {
		t.Error("the grams of a dose are shown in the form of a temperature")
	}
}
