package web

import (
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

func houseWithProbes() *house {
	h := sampleHouse()
	failed := process.ProbeCheck{At: night.AddDate(0, 0, -1), By: "MO", CheckSaid: process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: 2.8,
		Result: &process.CheckResult{Fails: process.FailsOff, Batches: []string{"OL-31-04", "OL-31-09"}}}}
	h.probes = []Probe{
		{Probe: "needle", Place: "old-kettle", Placement: process.Core, SentC: 61.9, ReadsC: 61.5, SentAt: night.Add(-time.Minute), Correction: process.Correction{OffsetC: -0.4}, Uncertainty: 0.3, Due: night.AddDate(0, 0, -2)},
		{Probe: "slow", Place: "alder", Placement: process.Product, SentC: 3, ReadsC: 3, SentAt: night, Failed: &failed, Checks: []process.ProbeCheck{failed}, Uncertainty: 0.5, Batches: []string{"OL-31-04", "OL-31-09"}},
		{Probe: "damp", Place: "alder", Placement: process.Humidity},
	}
	return h
}

func holds(t *testing.T, body string, wants ...string) {
	t.Helper()
	for _, want := range wants {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not say %q:\n%s", want, body)
		}
	}
}

func TestPagesOfProbes(t *testing.T) {
	h := houseWithProbes()
	page := h.page(t, record.Site{})
	w := get(t, page, "/probes")
	holds(t, w.Body.String(), `href="/probes/needle"`, "61.5 °C", "Counted as sent − 0.400 °C.", "Uncertain by 0.3 K.", "Check overdue since", "No good check is known",
		"Out of use: what it watches is not measured.", "<strong>damp</strong> measures humidity and is not held into ice")
	w = get(t, page, "/probes/slow")
	holds(t, w.Body.String(), "Measured since its last good check:", `<a href="/batches/OL-31-09/record.html">OL-31-09</a>`, "read 2.8 °C in ice, where it was 0.0 °C: out of use, not within 1.1 K",
		"Before: as sent. After: as sent.", "In doubt, measured since the last good check:")
	if strings.Contains(w.Body.String(), "as_sent") {
		t.Error("a probe without a correction is asked for the display without it")
	}
	for _, name := range []string{"damp", "nowhere", "%3Cscript%3E"} {
		if w := get(t, page, "/probes/"+name); w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "that can be held into ice") || strings.Contains(w.Body.String(), "<script>") {
			t.Errorf("%s: %d", name, w.Code)
		}
	}
	if w := get(t, page, "/batches"); !strings.Contains(w.Body.String(), `href="/probes"`) {
		t.Error("the list does not lead to the probes")
	}
	h.fault = http.ErrBodyNotAllowed
	if w := get(t, page, "/probes/slow"); w.Code != http.StatusInternalServerError {
		t.Errorf("a fault of the reader: %d", w.Code)
	}
}

func TestTheFormOfACheck(t *testing.T) {
	h := houseWithProbes()
	w := post(t, h.page(t, record.Site{}), "/probes/needle", "id=x&by=TV&ice=0,4&boiling=97.9&pressure=954.6&reads=61.9&against=61.5&correct=yes&as_sent=yes&text=new+battery&when=2026-11-17T20:15")
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/probes/needle?done" || len(h.said) != 1 {
		t.Fatalf("%d to %s, said %+v\n%s", w.Code, w.Header().Get("Location"), h.said, w.Body)
	}
	c := h.said[0]
	if c.ID != "x-checked-needle" || c.Kind != process.CommandChecked || c.By != "TV" || c.Text != "new battery" || !c.At.Equal(time.Date(2026, 11, 17, 19, 15, 0, 0, time.UTC)) || !c.Typed.Equal(night) {
		t.Errorf("said %+v", c)
	}
	k := c.Check
	if k.Probe != "needle" || k.Method != process.CheckIce || k.ReadC != 0.4 || !k.Correct || !k.AsSent || len(k.Further) != 2 {
		t.Fatalf("checked %+v", k)
	}
	if b := k.Further[0]; b.Method != process.CheckBoiling || b.ReadC != 97.9 || b.PressurePa != 95_460 || math.Abs(b.TrueC-98.31225) > 1e-3 {
		t.Errorf("boiling %+v", b)
	}
	if p := k.Further[1]; p.Method != process.CheckCompare || p.ReadC != 61.9 || p.TrueC != 61.5 {
		t.Errorf("beside %+v", p)
	}
	h = houseWithProbes()
	post(t, h.page(t, record.Site{Fahrenheit: true}), "/probes/needle", "id=x&by=TV&boiling=209&altitude=520")
	if len(h.said) != 1 || math.Abs(h.said[0].Check.ReadC-98.333) > 1e-3 || h.said[0].Text != "pressure of standard air at 520 m" || math.Abs(h.said[0].Check.TrueC-98.24) > 0.02 {
		t.Errorf("said %+v", h.said)
	}
}

// What is wrong stands beside its field, all at once, and what was typed is kept.
func TestTheFormOfACheckSaysWhatIsWrong(t *testing.T) {
	for form, wants := range map[string][]string{
		"by=TV":                                    {"Nothing was read."},
		"ice=0.3":                                  {"Who are you?"},
		"by=TV&ice=cold&boiling=97,9":              {`value="cold"`, `value="97,9"`, `&#34;cold&#34; is not a temperature`, "Where water boils depends on the air"},
		"by=TV&ice=0&pressure=954":                 {"A pressure or an altitude is of boiling water", `value="954"`},
		"by=TV&boiling=98&pressure=0.954":          {"is not a pressure from 500 to 1100 hPa"},
		"by=TV&boiling=98&altitude=9000":           {"is not an altitude from -500 to 5000 m"},
		"by=TV&boiling=98&altitude=5&pressure=954": {"not both"},
		"by=TV&reads=61":                           {"Type what the thermometer beside it read."},
		"by=TV&against=61":                         {"Type what the probe read beside it."},
		"by=TV&ice=0&when=yesterday&correct=y&text=%3Cb%3E": {"is not a time", `value="yesterday"`, `value="yes" checked`, `value="&lt;b&gt;"`},
		"by=TV&ice=NaN": {"is not a temperature"},
	} {
		h := houseWithProbes()
		w := post(t, h.page(t, record.Site{}), "/probes/slow", form)
		if w.Code != http.StatusUnprocessableEntity || len(h.said) != 0 {
			t.Errorf("%s: %d, said %+v", form, w.Code, h.said)
		}
		holds(t, w.Body.String(), append(wants, "Look at the fields that are marked.", `aria-invalid="true"`, `" role="alert">`, `aria-describedby="wrong-`, `<p class="wrong" id="wrong-`)...)
	}
	h := houseWithProbes()
	h.answer = &process.Refusal{What: "not that", Hint: "try this"}
	w := post(t, h.page(t, record.Site{}), "/probes/slow", "by=TV&ice=0.3")
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("refused with %d", w.Code)
	}
	holds(t, w.Body.String(), "not that", "try this", `value="0.3"`)
	for _, form := range []string{"by=TV%zz", "by=TV&text=" + strings.Repeat("x", maxForm)} {
		if w := post(t, h.page(t, record.Site{}), "/probes/slow", form); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "could not be read") {
			t.Errorf("%d for a form that cannot be read", w.Code)
		}
	}
}
