package web

import (
	"net/http"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/record"
)

func TestWeightsAndCountsBecomeCommands(t *testing.T) {
	h := curing(packet)
	p := h.page(t, record.Site{})
	w := post(t, p, "/batches/OL-31-40/weigh", "id=x&by=TV&rung=after-cure&piece=A&grams=2086&piece=B&grams=4.6lb&text=bench")
	post(t, p, "/batches/OL-31-40/weigh", "id=y&by=TV&rung=sliced&piece=A&grams=&piece=B&grams=&all=3.2kg")
	post(t, p, "/batches/OL-31-40/count", "id=z&by=TV&way=out+cure&count=2")
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/batches/OL-31-40/weigh?done" || len(h.said) != 3 {
		t.Fatalf("status %d, said %+v", w.Code, h.said)
	}
	each, all, count := h.said[0], h.said[1], h.said[2]
	if each.Kind != process.CommandWeighed || each.Rung != process.RungCure || len(each.Weights) != 2 || each.Weights[0] != (process.PieceWeight{Piece: "A", Grams: 2086}) || each.Weights[1].Grams != 2086.525 || each.Text != "bench" {
		t.Errorf("said %+v", each)
	}
	if all.Rung != process.RungSliced || len(all.Weights) != 1 || all.Weights[0] != (process.PieceWeight{Grams: 3200}) {
		t.Errorf("said %+v", all)
	}
	if count.Kind != process.CommandCounted || count.Way != process.WayOut || count.Stage != process.StageCure || count.Value != 2 {
		t.Errorf("said %+v", count)
	}
}

func TestEachSlipOfAWeightIsToldBesideItsField(t *testing.T) {
	for _, c := range []struct{ path, form, want string }{
		{"weigh", "piece=A&grams=2086", `id="why-rung">`},
		{"weigh", "rung=dried&piece=A&grams=2086", `id="why-rung">`},
		{"weigh", "rung=after-cure&piece=A&grams=", `id="why-all">Type one weight`},
		{"weigh", "rung=after-cure&piece=A&grams=2086&all=4kg", `id="why-all">Either each slab`},
		{"weigh", "rung=after-cure&piece=A&grams=2086&piece=B&grams=2,1kg", `id="why-grams-B">`},
		{"weigh", "rung=after-cure&piece=A&grams=2086&when=soon", `id="why-when">`},
		{"weigh", "by=&rung=after-cure&piece=A&grams=2086", `id="why-by">Who are you?`},
		{"count", "way=out+cure&count=", `id="why-count">`},
		{"count", "way=out+cure&count=1.5", `id="why-count">`},
		{"count", "way=out+cure&count=-1", `id="why-count">`},
		{"count", "way=past+cure&count=2", `id="why-way">`},
		{"count", "way=out&count=2", `id="why-way">`},
	} {
		h := curing(packet)
		form := "id=x&by=TV&"
		if strings.HasPrefix(c.form, "by=") {
			form = "id=x&"
		}
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-40/"+c.path, form+c.form)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), c.want) || len(h.said) != 0 {
			t.Errorf("%s %s: %d, said %+v, want %s", c.path, c.form, w.Code, h.said, c.want)
		}
		if strings.Contains(c.form, "2086") {
			has(t, w.Body.String(), `value="2086"`)
		}
	}
}

func TestTheLadderAndTheCounts(t *testing.T) {
	h := curing(packet)
	h.work.Yield = []process.YieldStep{{Rung: process.RungCure, Grams: 2086.56, Green: 2268, Pieces: []string{"A"}}, {Rung: process.RungSliced, Grams: 3200, Green: 4536}}
	h.work.Counts = []process.Count{{At: night, By: "T.V.", Stage: process.StageCure, Way: process.WayOut, Pieces: 1}}
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-40/weigh").Body.String(), "4536 g", "after cure", "92.0 %", "70.5 %", "all together", "out of cure", "1 missing", "not counted")
	h.work.Open = false
	if body := get(t, h.page(t, record.Site{}), "/batches/OL-31-40/weigh").Body.String(); strings.Contains(body, `name="grams"`) {
		t.Error("a batch that is closed is weighed")
	}
}
