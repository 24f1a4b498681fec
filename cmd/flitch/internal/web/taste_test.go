package web

import (
	"net/http"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/record"
)

func TestTheTasteCardBecomesACommand(t *testing.T) {
	h := curing(packet)
	w := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/taste", "id=x&by=TV&salt=4&sweet=&colour=2&next=an+hour+less")
	if w.Code != http.StatusSeeOther || len(h.said) != 1 || h.said[0].Kind != process.CommandTasted || h.said[0].ID != "x-tasted" || *h.said[0].Taste != (process.Taste{Salt: 4, Colour: 2, Next: "an hour less"}) {
		t.Fatalf("%d, said %+v", w.Code, h.said)
	}
	for form, want := range map[string]string{
		"":                   `id="why-next">Nothing stands`,
		"salt=6&next=kept":   `id="why-salt">`,
		"salt=x&next=kept":   `id="why-salt">`,
		"salt=1.5&next=kept": `id="why-salt">`,
		"salt=3&by=":         `id="why-by">`,
	} {
		h := curing(packet)
		if !strings.Contains(form, "by=") {
			form += "&by=TV"
		}
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/taste", form)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) || len(h.said) != 0 {
			t.Errorf("%s: %d, said %+v, want %s", form, w.Code, h.said, want)
		}
		if strings.Contains(form, "kept") {
			has(t, w.Body.String(), ">kept</textarea>")
		}
	}
	h.work.Tastes = []process.TasteEntry{{By: "T.V.", Taste: process.Taste{Salt: 4}}}
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-40/taste").Body.String(), "salt 4", `name="colour"`)
	h = compared()
	h.beside[0].Tastes = []process.TasteEntry{{By: "T.V.", Taste: process.Taste{Salt: 4, Next: "less"}}}
	if got := rowOf(t, get(t, h.page(t, record.Site{}), "/compare").Body.String(), "Taste"); got != "T.V.: salt 4; next time: less|not measured|not measured" {
		t.Error(got)
	}
}
