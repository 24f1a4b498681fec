package web

import (
	"net/http"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/record"
)

func TestTheCostBecomesACommand(t *testing.T) {
	h := curing(packet)
	w := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/cost", "id=x&by=TV&belly=72.10&cure=&wood-or-power=0&ends=6.5")
	if w.Code != http.StatusSeeOther || len(h.said) != 1 || h.said[0].Kind != process.CommandCost || h.said[0].ID != "x-cost" || h.said[0].Cost.Words() != "belly 72.10, wood or power 0.00, ends worth 6.50" {
		t.Fatalf("%d, said %+v", w.Code, h.said)
	}
	for form, want := range map[string]string{
		"":                           `id="why-belly">Nothing stands`,
		"belly=72,10&bags=4.75":      `id="why-belly">`,
		"belly=1,250&bags=4.75":      `id="why-belly">`,
		"cure=-1&bags=4.75":          `id="why-cure">`,
		"other=NaN&bags=4.75":        `id="why-other">`,
		"ends=1000000.01&bags=4.75":  `id="why-ends">`,
		"belly=%E2%82%AC5&bags=4.75": `id="why-belly">`,
		"bags=4.75&by=":              `id="why-by">`,
	} {
		h := curing(packet)
		if !strings.Contains(form, "by=") {
			form += "&by=TV"
		}
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/cost", form)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) || !strings.Contains(w.Body.String(), `aria-invalid="true"`) || len(h.said) != 0 {
			t.Errorf("%s: %d, said %+v, want %s", form, w.Code, h.said, want)
		}
		if strings.Contains(form, "4.75") {
			has(t, w.Body.String(), `name="bags" value="4.75"`)
		}
		if strings.Contains(form, "72,10") {
			has(t, w.Body.String(), `name="belly" value="72,10"`)
		}
	}
}

// priced is the sum of a batch of which 2 kg of slices were weighed.
func priced() process.CostSum {
	ends := process.CostHeld{CostLine: process.CostLine{Amount: 6.5}, By: "M.O."}
	return process.CostSum{Lines: []process.CostHeld{{CostLine: process.CostLine{What: process.CostBelly, Amount: 76.1}, By: "T.V."}}, Ends: &ends, SlicedG: 2000}
}

func TestWhatStandsOfACost(t *testing.T) {
	h := curing(packet)
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-40/cost").Body.String(), "Nothing was entered yet", `>Belly</label>`, `name="wood-or-power"`, "/weigh")
	h.work.Cost = priced()
	body := get(t, h.page(t, record.Site{Currency: "EUR"}), "/batches/OL-31-40/cost").Body.String()
	has(t, body, "76.10 EUR", "34.80 EUR", "15.79 EUR", "6.50 EUR", ">Belly, EUR</label>")
	h.work.Cost.SlicedG, h.work.Cost.Ends = 0, nil
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-40/cost").Body.String(), "<dd>76.10</dd>", "not measured", "not valued", "Weigh the slices")
	h.work.Open = false
	if body := get(t, h.page(t, record.Site{}), "/batches/OL-31-40/cost").Body.String(); strings.Contains(body, "Weigh the slices") {
		t.Error("a closed batch, which takes no weights, asks for one")
	}
}

func TestCostsBesideEachOther(t *testing.T) {
	h := compared()
	h.beside[0].Cost = priced()
	body := get(t, h.page(t, record.Site{Currency: "EUR"}), "/compare").Body.String()
	if got := rowOf(t, body, "Cost"); got != "76.10 EUR in all; slices 34.80 EUR a kg, 15.79 EUR a lb; ends valued|not recorded|not recorded" {
		t.Error(got)
	}
	h.beside[0].Cost.SlicedG, h.beside[0].Cost.Ends = 0, nil
	if got := rowOf(t, get(t, h.page(t, record.Site{}), "/compare").Body.String(), "Cost"); got != "76.10 in all; slices not measured|not recorded|not recorded" {
		t.Error(got)
	}
}
