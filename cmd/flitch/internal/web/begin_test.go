package web

import (
	"html"
	"math"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/plans"
	"flitch/process/record"
)

// The class is asked first, and only plans of that class can be chosen.
func TestABatchBeginsWithItsClass(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	first := get(t, p, "/batches/new").Body.String()
	has(t, first, `href="/batches/new?class=not%20fully%20cooked"`, `href="/batches/new?class=fully%20cooked"`, "cook before eating", "fully cooked only")
	if strings.Contains(first, "<form method=\"post\" action=\"/batches/new\"") {
		t.Error("the form is there before the class")
	}
	if odd := get(t, p, "/batches/new?class=raw"); strings.Contains(odd.Body.String(), `name="plan"`) {
		t.Error("a class that is none leads to a form")
	}
	for _, class := range classes() {
		body := get(t, p, "/batches/new?class="+strings.ReplaceAll(string(class), " ", "+")).Body.String()
		for _, name := range plans.Names() {
			plan, err := plans.BuiltIn(name)
			if err != nil {
				t.Fatal(err)
			}
			if there := strings.Contains(body, `<option value="`+name+`"`); there != (plan.Class == class) {
				t.Errorf("%s: plan %s offered: %t", class, name, there)
			}
		}
		has(t, body, `value="OL-31-10"`, `<option value="alder" selected>Alder`) // the next free name, the only fridge
		if strings.Contains(body, "%!") {
			t.Error("a text of the form lacks an argument")
		}
	}
}

// The review shows what to weigh, by the worked example of the handbook: 2268 g x 156e-6
// / 0.0625 is 5.66 g; with the skin on, 0.9 of it. Nothing is started by it.
func TestTheReviewShowsTheDoseAndStartsNothing(t *testing.T) {
	h := sampleHouse()
	v := belly(map[string]string{"do": "review"})
	w := post(t, h.page(t, record.Site{}), "/batches/new", v.Encode())
	if w.Code != http.StatusOK || len(h.said) != 0 {
		t.Fatalf("status %d, said %+v", w.Code, h.said)
	}
	has(t, w.Body.String(), "not started yet", "5.7 g", "5.1 g", "for 156 ppm on 2268 g green", "0.9 of the weight", "<strong>met</strong>: most nitrite", "core-1",
		"Packet with 6.25 % nitrite", "poison", `name="weight-1" value="5lb"`, `name="skin-1" value="yes"`, `name="id" value="x"`)
}

// What the review keeps is what is started, as one command.
func TestStartIsOneCommand(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	review := post(t, p, "/batches/new", belly(map[string]string{"do": "review"}).Encode()).Body.String()
	form := "do=start"
	for _, m := range regexp.MustCompile(`<input type="hidden" name="([^"]+)" value="([^"]*)"`).FindAllStringSubmatch(review, -1) {
		if m[1] != "back" {
			form += "&" + m[1] + "=" + strings.ReplaceAll(html.UnescapeString(m[2]), " ", "+")
		}
	}
	for range 2 {
		w := post(t, p, "/batches/new", form)
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/batches/OL-31-40/doses?done" {
			t.Fatalf("%d to %q: %s", w.Code, w.Header().Get("Location"), w.Body)
		}
	}
	if len(h.said) != 2 || h.said[0].ID != "x-new" || h.said[1].ID != "x-new" {
		t.Fatalf("said %+v, want one command twice", h.said)
	}
	c := h.said[0]
	n := c.New
	if c.Kind != process.CommandNew || c.Batch != "OL-31-40" || c.By != "T.V." || n.Plan.Name != "belly-dry-cured" || len(n.Pieces) != 2 ||
		n.Pieces[0] != (process.Piece{Name: "A", GreenG: 2268, ThicknessMM: 38}) || math.Abs(n.Pieces[1].GreenG-2267.962) > 1e-9 || n.Pieces[1].ThicknessMM != 38.1 || !n.Pieces[1].SkinOn {
		t.Errorf("said %+v, %+v", c, n)
	}
	if a := n.Asked; a == nil || a.Nitrite != 0.0625 || a.PPM != 156 || a.Rule != "us" || a.Method != "dry" || a.Product != "bacon" || len(a.Portions) != 0 {
		t.Errorf("asked %+v", a)
	}
}

// Each slip is told beside its field, all of them at once, and what was typed is kept.
func TestEachSlipOfANewBatchIsToldBesideItsField(t *testing.T) {
	for _, c := range []struct {
		field, typed, beside, want string
	}{
		{"by", "", "by", "Who are you?"},
		{"by", "123456789", "by", "Who are you?"},
		{"plan", "", "plan", "Choose a plan"},
		{"plan", "ham", "plan", "Choose a plan"}, // of the other class
		{"name", "", "name", "needs a name"},
		{"name", "OL-31-09", "name", "There is a batch OL-31-09 already. The next free name is OL-31-10"},
		{"weight-0", "2,268 kg", "weight-0", "decimal comma"},
		{"weight-0", "heavy", "weight-0", "is not a number with a unit"},
		{"weight-0", "-5", "weight-0", "not a weight above zero"},
		{"weight-0", "5 stone", "weight-0", "is not a unit of a weight"},
		{"weight-0", "NaN", "weight-0", "is not a number with a unit"},
		{"weight-0", "", "weight-0", "Missing"},
		{"thick-0", "", "thick-0", "Missing"},
		{"thick-0", "0", "thick-0", "not a thickness above zero"},
		{"thick-0", "38g", "thick-0", "is not a unit of a thickness"},
		{"piece-0", "", "piece-0", "Give the slab a letter"},
		{"piece-0", "B", "piece-1", "There is a slab B already"},
		{"piece-0", "A+C", "piece-0", "cannot be on a label"},
		{"core-1", "core-1", "core-1", "core-1 is in slab A already"},
		{"nitrite", "", "nitrite", "The strength is missing"},
		{"nitrite", "0.0625", "nitrite", "the strength is 6.25 %"},
		{"nitrite", "62.5", "nitrite", "poison"},
		{"nitrite", "1tsp", "nitrite", "is not per cent"},
		{"nitrate", "4", "nitrate", "nitrate is refused by us"},
		{"ppm", "", "ppm", "type the ppm asked, or the grams"},
		{"ppm", "201", "ppm", "over 200 ppm"},
		{"ppm", "-1", "ppm", "is not a dose"},
		{"ppm", "1e9", "ppm", "is not a number"},
		{"rule", "", "rule", "by whose limits"},
		{"recipe-0", "5.7", "ppm", "Either ppm, or the grams"},
		{"recipe-0", "1 tbsp", "recipe-0", "not dosed by the spoon"},
		{"brine", "1.5kg", "brine", "a brine is for immersion"},
		{"pump", "10", "pickle", "for the method pumped"},
	} {
		h := sampleHouse()
		for _, do := range []string{"review", "start"} {
			v := belly(map[string]string{c.field: c.typed, "do": do})
			if c.field == "name" && do == "start" && c.typed != "" {
				continue // the engine knows whose name it is
			}
			w := post(t, h.page(t, record.Site{}), "/batches/new", v.Encode())
			body := w.Body.String()
			beside := regexp.MustCompile(`id="why-` + regexp.QuoteMeta(c.beside) + `">([^<]*)<`).FindStringSubmatch(body)
			if w.Code != http.StatusUnprocessableEntity || beside == nil || !strings.Contains(html.UnescapeString(beside[1]), c.want) || len(h.said) != 0 {
				t.Errorf("%s %q, %s: %d, beside %s %q, want %q; said %d", c.field, c.typed, do, w.Code, c.beside, beside, c.want, len(h.said))
				continue
			}
			has(t, body, `aria-describedby="why-`+c.beside+`"`)
			for name, value := range map[string]string{"weight-1": "5lb", "thick-1": "1.5in", "name": v.Get("name"), c.field: v.Get(c.field)} {
				kept := regexp.MustCompile(`name="` + regexp.QuoteMeta(name) + `"[^>]*value="([^"]*)"`).FindStringSubmatch(body)
				if kept != nil && html.UnescapeString(kept[1]) != value {
					t.Errorf("%s %q: %s became %q", c.field, c.typed, name, kept[1])
				}
			}
		}
	}
}

func TestALineForEachSlipAtOnce(t *testing.T) {
	h := sampleHouse()
	body := post(t, h.page(t, record.Site{}), "/batches/new", belly(map[string]string{"by": "", "plan": "", "weight-0": "x", "thick-1": "y"}).Encode()).Body.String()
	if n := strings.Count(body, `class="wrong" id="why-`); n != 4 {
		t.Errorf("%d of 4 slips are told", n)
	}
}

// Without a slab nothing is begun; rows with their letter only are no slabs.
func TestEmptyRowsAreNoSlabs(t *testing.T) {
	h := sampleHouse()
	v := belly(map[string]string{"weight-0": "", "thick-0": "", "weight-1": "", "thick-1": "", "do": "start"})
	has(t, post(t, h.page(t, record.Site{}), "/batches/new", v.Encode()).Body.String(), "No slab: type")
	if len(h.said) != 0 {
		t.Error("a batch without slabs was begun")
	}
}

// More rows are asked for without script, and nothing is checked or lost by it.
func TestMoreRows(t *testing.T) {
	h := sampleHouse()
	w := post(t, h.page(t, record.Site{}), "/batches/new", belly(map[string]string{"do": "rows", "weight-0": "rubbish"}).Encode())
	has(t, w.Body.String(), `name="rows" value="8"`, `name="weight-7"`, `value="rubbish"`, `name="piece-7" value="H"`)
	if w.Code != http.StatusOK || strings.Contains(w.Body.String(), `class="wrong"`) {
		t.Errorf("status %d, or a slip is told", w.Code)
	}
	w = post(t, h.page(t, record.Site{}), "/batches/new", belly(map[string]string{"do": "rows", "rows": "1000000"}).Encode())
	if n := strings.Count(w.Body.String(), `class="piece"`); n > mostRows {
		t.Errorf("%d rows", n)
	}
	back := post(t, h.page(t, record.Site{}), "/batches/new", belly(map[string]string{"do": "back"}).Encode())
	has(t, back.Body.String(), `value="5lb"`, `name="skin-1" value="yes" checked`)
}

// A recipe in grams is told in ppm and checked, and goes along with the batch.
func TestARecipeInGrams(t *testing.T) {
	h := sampleHouse()
	v := belly(map[string]string{"ppm": "", "recipe-0": "5,7", "recipe-1": "5.1", "do": "review"})
	has(t, post(t, h.page(t, record.Site{}), "/batches/new", v.Encode()).Body.String(), "by your recipe: 157 ppm on 2268 g green")
	v.Set("do", "start")
	if w := post(t, h.page(t, record.Site{}), "/batches/new", v.Encode()); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code, w.Body)
	}
	a := h.said[0].New.Asked
	if a == nil || a.PPM != 0 || len(a.Portions) != 2 || a.Portions[0].AskedG != 5.7 || strings.Join(a.Portions[1].Pieces, "+") != "B" {
		t.Errorf("asked %+v", a)
	}
	over := belly(map[string]string{"ppm": "", "recipe-0": "57", "recipe-1": "5.1", "do": "review"})
	has(t, post(t, h.page(t, record.Site{}), "/batches/new", over.Encode()).Body.String(), `id="why-recipe-0">That comes to 1571 ppm, and the limit is 200 by us`)
}

// A brine is one dose for all slabs.
func TestABrineIsOneDose(t *testing.T) {
	h := sampleHouse()
	v := belly(map[string]string{"class": "fully cooked", "plan": "ham", "method": "immersion", "brine": "2kg", "ppm": "120", "skin-1": "", "do": "review"})
	has(t, post(t, h.page(t, record.Site{}), "/batches/new", v.Encode()).Body.String(), "Slab A&#43;B", "for 120 ppm")
	v.Set("method", "")
	has(t, post(t, h.page(t, record.Site{}), "/batches/new", v.Encode()).Body.String(), `id="why-method"`)
}

// A plan without a dose needs no packet.
func TestAPlanWithoutADose(t *testing.T) {
	h := sampleHouse()
	v := belly(map[string]string{"class": "fully cooked", "plan": "jerky", "nitrite": "", "ppm": "", "rule": "", "do": "start"})
	if w := post(t, h.page(t, record.Site{}), "/batches/new", v.Encode()); w.Code != http.StatusSeeOther || h.said[0].New.Asked != nil || w.Header().Get("Location") != "/batches/OL-31-40?done" {
		t.Errorf("status %d to %s, %+v", w.Code, w.Header().Get("Location"), h.said)
	}
}

// What the engine refuses is told, nothing typed is lost, and the next try is a new command.
func TestARefusedStartKeepsEverything(t *testing.T) {
	h := sampleHouse()
	h.answer = &process.Refusal{What: "there is already a batch OL-31-09", Hint: "another name"}
	w := post(t, h.page(t, record.Site{}), "/batches/new", belly(map[string]string{"do": "start", "name": "OL-31-09"}).Encode())
	has(t, w.Body.String(), "there is already a batch", `id="why-name"`, `value="5lb"`, `name="id" value="id1"`)
	if w.Code != http.StatusUnprocessableEntity {
		t.Error(w.Code)
	}
}

// One like another has its plan, places, letters and dose, and no weights.
func TestOneLikeAnother(t *testing.T) {
	h := sampleHouse()
	h.work.ID = "OL-31-04"
	h.like = NewRequest{Plan: "belly-dry-cured", Pieces: []process.Piece{{Name: "P", GreenG: 2100, ThicknessMM: 41, SkinOn: true}, {Name: "Q", GreenG: 1900, ThicknessMM: 30}},
		Fridge: "alder", Smoker: "old-kettle", Cores: map[string]string{"core-1": "Q"}, Asked: &process.Dosing{Nitrite: 0.0625, PPM: 120, Rule: "canada", Method: "dry", Product: "bacon"}}
	body := get(t, h.page(t, record.Site{}), "/batches/new?like=OL-31-04").Body.String()
	has(t, body, `<option value="belly-dry-cured" selected>`, `value="P"`, `value="Q"`, `name="nitrite" value="6.25"`, `name="ppm" value="120"`, `<option value="canada" selected>`,
		`<option value="old-kettle" selected>`, `name="skin-0" value="yes" checked`, "<option selected>core-1</option>", `value="OL-31-10"`)
	if strings.Contains(body, "2100") || strings.Contains(body, `value="41"`) {
		t.Error("the weights of another batch are filled in")
	}
	w := get(t, h.page(t, record.Site{}), "/batches/new?like=nothing")
	has(t, w.Body.String(), "there is no batch nothing")
}

func TestNextName(t *testing.T) {
	for _, c := range []struct {
		had  []string
		want string
	}{
		{nil, "2026-11-18-1"},
		{[]string{"OL-31-09", "OL-31-10"}, "OL-31-11"},
		{[]string{"OL-31-99"}, "OL-31-100"},
		{[]string{"Nutmeg"}, "2026-11-18-1"},
		{[]string{"7", "8"}, "9"},
		{[]string{"x99999999999999999999"}, "2026-11-18-1"},
	} {
		var had []Summary
		for _, id := range c.had {
			had = append(had, Summary{ID: id})
		}
		if got := nextName(had, "2026-11-18"); got != c.want {
			t.Errorf("after %v: %s, want %s", c.had, got, c.want)
		}
	}
}
