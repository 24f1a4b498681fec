package web

import (
	"context"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// inCure is a batch some days into its cure.
func inCure(id string, days float64, turnBy time.Time) Glance {
	return Glance{Batch: id, Product: "Belly", At: night, State: Fine, Stage: Stage{Name: process.StageCure, Entered: night.Add(-72 * time.Hour)},
		Next:   &Task{What: "turn every slab", By: turnBy, Kind: process.CommandTurned},
		Clocks: []process.Clock{{Name: process.ClockCure, Sum: days, Limit: 6, Unit: "d", AtLeast: true, Running: true}},
		Fridge: &Fridge{Place: "alder", Product: Number{Known: true, C: 3.1, At: night.Add(-time.Minute)}, AboveC: 4.4, TurnsWanted: true}}
}

func ordered(t *testing.T, body string, wants ...string) {
	t.Helper()
	at := 0
	for _, want := range wants {
		next := strings.Index(body[at:], want)
		if next < 0 {
			t.Fatalf("%q is missing, or before what should come first", want)
		}
		at += next
	}
}

// Home by day: what to do and by when, each with its button; the fridge once; batches by
// day in cure, the farthest first; the others; alarms; the night; what is closed.
func TestHomeBeginsWithWhatToDo(t *testing.T) {
	h := sampleHouse()
	lit := h.glances[0]
	lit.Stage.Heat, lit.Next = false, &Task{What: "Start the chill", Kind: process.CommandStage}
	h.glances = []Glance{inCure("B1", 1.4, night.Add(15*time.Hour)), inCure("C1", 3.6, night.Add(-time.Hour)), lit}
	h.probes = []Probe{{Probe: "alder-slow", Place: "alder", Due: night.Add(5 * time.Hour)}, {Probe: "far", Place: "alder", Due: night.Add(99 * time.Hour)}}
	ready := h.alarms[0]
	ready.Number, ready.Entry, ready.Title, ready.Subject = 9, "K3", "Cure time by your rule", "batch C1"
	h.alarms = append(h.alarms, ready)
	w := get(t, h.page(t, record.Site{}), "/")
	if w.Code != http.StatusOK {
		t.Fatalf("status %d", w.Code)
	}
	ordered(t, w.Body.String(), `data-from="/home"`, "To do", "turn every slab", "C1, by 02:31 CET", "overdue by 60 min", `formaction="/turned" name="batch" value="C1"`,
		"Check probe alder-slow in ice", `href="/probes/alder-slow"`, "turn every slab", "B1, by 18:31 CET", "Start the chill", `href="/batches/OL-31-09"`, "Cure time by your rule: batch C1", `href="/alarms/9"`,
		"Fridges", "alder", "3.1 °C", "In cure, by day", "C1", "day 4 of 6", "B1", "day 2 of 6", "Batches", "OL-31-09", "Open alarms", "Smoker cold", "You (initials)", "The night", "OL-31-04")
	if body := w.Body.String(); strings.Contains(body, "far") && strings.Contains(body, "/probes/far") || strings.Count(body, "<strong>alder</strong>") != 1 {
		t.Error("a check that is not due is something to do, or a fridge stands there twice")
	}
}

// A held batch asks what becomes of it, a closed one for somebody who reads it, and an empty
// house for a batch; each leads to where that is done, and no command line stands there.
func TestHomeAsksForPapers(t *testing.T) {
	h := sampleHouse()
	held := inCure("B1", 1.4, night.Add(time.Hour))
	held.Held = []string{"out-of-cold"}
	h.glances, h.batches[1].Waits = []Glance{held}, true
	body := get(t, h.page(t, record.Site{}), "/batches").Body.String()
	ordered(t, body, "To do", "turn every slab", "Say what becomes of it; held: out-of-cold", `href="/batches/B1/papers#disposition"`, "To be reviewed", `href="/batches/OL-31-04/papers#review">Review OL-31-04`)
	h.glances, h.batches[1].Waits = nil, false
	body = get(t, h.page(t, record.Site{}), "/batches").Body.String()
	ordered(t, body, "No batch is open.", `href="/batches/new">Start a batch`)
	for _, wrong := range []string{"flitch batch new", "To be reviewed", "#disposition"} {
		if strings.Contains(body, wrong) {
			t.Errorf("the page of an empty house holds %q", wrong)
		}
	}
}

// Of an alarm that is over, nobody is going to have it "yet".
func TestAnAlarmThatIsOverWaitsForNobody(t *testing.T) {
	h := sampleHouse()
	h.alarms[1].AcknowledgedAt, h.alarms[1].AcknowledgedBy = time.Time{}, ""
	body := get(t, h.page(t, record.Site{}), "/alarms/5").Body.String()
	has(t, body, "Nobody was on it when it ended.")
	if strings.Contains(body, "Nobody has it yet") {
		t.Error("somebody may still have it")
	}
}

// A lit fire is home, at any hour; two are not, nor is a batch without one.
func TestALitFireIsHome(t *testing.T) {
	h := sampleHouse()
	h.glances = append(h.glances, inCure("B1", 1, night))
	if w := get(t, h.page(t, record.Site{}), "/"); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/batches/OL-31-09" {
		t.Errorf("one fire: %d to %q", w.Code, w.Header().Get("Location"))
	}
	two := h.glances[0]
	two.Batch = "X2"
	h.glances = append(h.glances, two)
	if w := get(t, h.page(t, record.Site{}), "/"); w.Code != http.StatusOK {
		t.Errorf("two fires: %d", w.Code)
	}
	h.glances = []Glance{inCure("B1", 1, night)}
	if w := get(t, h.page(t, record.Site{}), "/"); w.Code != http.StatusOK {
		t.Errorf("no fire: %d", w.Code)
	}
}

// One page has a turn for each batch: they are two commands, and lead back home.
func TestTurnsOfTwoBatchesAreTwo(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	for _, batch := range []string{"B1", "C1", "C1"} {
		w := post(t, p, "/turned", "id=a&by=TV&back=home&batch="+batch)
		if w.Header().Get("Location") != "/batches?batch="+batch+"&done=a-turned-"+batch {
			t.Errorf("to %q", w.Header().Get("Location"))
		}
	}
	if h.said[0].ID == h.said[1].ID || h.said[1].ID != h.said[2].ID || h.said[0].Batch != "B1" {
		t.Errorf("%+v", h.said)
	}
}

// Four buttons, always four: what does not apply is grey and says why.
func TestFourButtonsStayFour(t *testing.T) {
	h := sampleHouse()
	reach := func() string {
		_, after, _ := strings.Cut(get(t, h.page(t, record.Site{}), "/batches/OL-31-09/glance").Body.String(), `id="reach"`)
		return after
	}
	count := regexp.MustCompile(`<button|<a class="button"`)
	lit := reach()
	has(t, lit, `aria-disabled="true">Turned<span class="unseen">: only in the cure`, `name="stage" value="rest"`, `href="#hand"`, `name="alarm" value="7"`)
	h.glances = []Glance{inCure("OL-31-09", 2, night)}
	cure := reach()
	has(t, cure, `formaction="/turned"`, `aria-disabled="true">Next stage<span class="unseen">: this is the last one`, `aria-disabled="true">I am on it<span class="unseen">: no alarm`)
	for _, bar := range []string{lit, cure} {
		if n := len(count.FindAllString(bar, -1)); n != 4 {
			t.Errorf("%d buttons", n)
		}
	}
}

func TestBedsideIsTheWordAndWhen(t *testing.T) {
	h := sampleHouse()
	h.glances[0].State = Blind
	p := h.page(t, record.Site{})
	body := get(t, p, "/batches/OL-31-09/bedside").Body.String()
	ordered(t, body, `content="dark"`, "bedside.css", "NOT LIVE", `data-from="/batches/OL-31-09/bedside/now"`, `class="word">blind`, "since 03:11 CET", "about 05:11 CET", "come-up", "Keep the screen on")
	for _, bright := range []string{"flitch.css", "Chamber", "Fridge", "<img", `class="state`} {
		if strings.Contains(body, bright) {
			t.Errorf("the bedside view holds %q", bright)
		}
	}
	has(t, body, get(t, p, "/batches/OL-31-09/bedside/now").Body.String())
	if w := get(t, p, "/batches/nope/bedside"); w.Code != http.StatusNotFound {
		t.Errorf("a batch that is not there: %d", w.Code)
	}
}

func TestWoodIsANote(t *testing.T) {
	h := sampleHouse()
	post(t, h.page(t, record.Site{}), "/wood", "id=a&by=TV&batch=OL-31-09")
	if len(h.said) != 1 || h.said[0].Kind != process.CommandNote || h.said[0].Text != "wood added" || h.said[0].Batch != "OL-31-09" {
		t.Errorf("%+v", h.said)
	}
}

// A quarter of an hour of silence has an owner, a reason and an end.
func TestQuietIsAShelfOfAQuarter(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	post(t, p, "/quiet", "id=a&by=TV&alarm=7&back=alarm&text=loading")
	if len(h.said) != 1 || h.said[0].Kind != process.CommandShelve || h.said[0].Alarm != 7 || !h.said[0].Until.Equal(night.Add(15*time.Minute)) || h.said[0].Text != "loading" {
		t.Errorf("%+v", h.said)
	}
	for _, bad := range []string{"by=TV&alarm=7&back=alarm", "by=TV&alarm=x&back=alarm&text=loading", "alarm=7&back=alarm&text=loading"} {
		if w := post(t, p, "/quiet", bad); w.Code == http.StatusSeeOther {
			t.Errorf("%s was taken", bad)
		}
	}
	if len(h.said) != 1 {
		t.Errorf("%d said", len(h.said))
	}
}

// The card of a lost heat ends with one of three, and why; without why nothing is logged and
// the field says so.
func TestDecisionNeedsAWhy(t *testing.T) {
	h := sampleHouse()
	deps := Deps{Site: record.Site{Zone: time.UTC}, Reader: h, Commander: h, Clock: h, NewID: func() string { return "n" },
		Cards: func(context.Context, Alarm) (Cards, error) {
			return Cards{Batch: "OL-31-09", Off: &process.OffCard{SetC: 80, LineC: 71.7}}, nil
		}}
	p := New(deps)
	w := post(t, p, "/decide", "id=a&by=TV&batch=OL-31-09&alarm=7&back=alarm&decision=hold&text=")
	if w.Code != http.StatusUnprocessableEntity || len(h.said) != 0 {
		t.Errorf("without why: %d, %v", w.Code, h.said)
	}
	has(t, w.Body.String(), `aria-invalid="true" aria-describedby="off-why-wrong"`, `id="off-why-wrong">Say why`, `value="TV"`)
	post(t, p, "/decide", "id=a&by=TV&batch=OL-31-09&alarm=7&back=alarm&decision=hold&text=core+only+49")
	if len(h.said) != 1 || h.said[0].Kind != process.CommandDisposition || h.said[0].Disposition != process.HoldForAdvice || h.said[0].Text != "Heat was lost, alarm no. 7: core only 49" {
		t.Errorf("%+v", h.said)
	}
	post(t, p, "/decide", "id=a&by=TV&batch=OL-31-09&alarm=7&back=alarm&decision=discard&text=core+only+49")
	if len(h.said) != 2 || h.said[1].ID == h.said[0].ID {
		t.Errorf("the other decision of the page that was gone back to is taken for the same: %+v", h.said)
	}
	if w := post(t, p, "/decide", "by=TV&batch=OL-31-09&alarm=7&back=alarm&decision=eat&text=x"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a fourth decision: %d", w.Code)
	}
}

func TestCardsSayWhatIsNotMeasured(t *testing.T) {
	h := sampleHouse()
	gap, rate, leftH, off := 12.2, 0.1, 0.8, 16.7
	at := process.Sample{At: night.Add(-time.Minute), Value: 56}
	for _, c := range []struct {
		cards Cards
		wants []string
	}{
		{Cards{Batch: "X", Stall: &process.StallCard{Piece: "A", Core: &at, Chamber: &process.Sample{At: at.At, Value: 68}, GapK: &gap, RateK: &rate, LeftH: &leftH,
			ComeUp: &process.Clock{Sum: 5.2, Limit: 6, Unit: "h"}, Hand: &process.HandEntry{At: at.At, By: "MO", Value: 51.3, Text: "needle"}, ApartK: &off, Rules: []process.StallRule{process.StallChamber, process.StallNoHeat}}},
			[]string{"Core, slab A", "56.0 °C at 03:30 CET", "12.2 K", "48 min left", "51.3 °C", "MO, needle", "16.7 K more", "chamber number is wrong", "under 13.9 K", "11.1 K under the house", "by 5.6 K to 8.3 K"}},
		{Cards{Stall: &process.StallCard{Rules: []process.StallRule{process.StallUnknown}}}, []string{"Core", "not measured", "no hand reading", "is not measured now"}},
		{Cards{Off: &process.OffCard{SetC: 80, LineC: 71.7, From: process.Moment{Earliest: night.Add(-time.Hour), Latest: night.Add(-30 * time.Minute)}, Undosed: []string{"A"},
			Cores: []process.OffCourse{{Piece: "A", Lowest: &at, Now: &at, Below: &process.Above{C: 54.4, Minutes: 31, Blind: 4}, Gaps: []process.Gap{{From: night.Add(-time.Hour), To: night}}}}}},
			[]string{"02:31 CET – 03:01 CET", "not back", "at off", "not measured", "below 54.4 °C since then", "31 min, and 4 min not seen", "02:31 CET – 03:31 CET", "A: no dose was logged", "not said in the plan", "no core probe", "Continue and finish", "Hold for advice", "Discard", `name="text"`}},
		{Cards{Power: &process.PowerCard{Place: "alder", From: night}}, []string{"Power and cold, alder", "not measured", "about 4 hours", "above 4.4 °C for more than 2 hours", "FDA and USDA", "No batch is in there"}},
		{Cards{Batches: []string{"X"}, Power: &process.PowerCard{Place: "alder", From: night, Mains: true, By: process.Product, Off: process.Moment{Latest: night, Seen: true}, Peak: &at, Above: []process.Above{{C: 4.444, Minutes: 70}}, Door: true, Opened: 3}},
			[]string{"off since", "not back", "peak", "56.0 °C", "above 4.4 °C", "70 min", "3 times", "none", `href="/batches/X/record.csv"`}},
	} {
		p := New(Deps{Site: record.Site{Zone: zoneOf(t)}, Reader: h, Commander: h, Clock: h, NewID: func() string { return "n" }, Cards: func(context.Context, Alarm) (Cards, error) { return c.cards, nil }})
		body := get(t, p, "/alarms/7").Body.String()
		has(t, body, c.wants...)
		labelled(t, body, "/alarms/7")
	}
}

func zoneOf(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// What a script or the worker shows comes from the texts, and the worker keeps no number.
func TestScriptsBringNoTextsOfTheirOwn(t *testing.T) {
	p := sampleHouse().page(t, record.Site{})
	words := regexp.MustCompile(`"[A-Za-z ,.':!?]*[a-z]{2,} [a-z]{2,}[A-Za-z ,.':!?]*"`) // a sentence between quotes
	for _, name := range []string{"live.js", "hair.js", "phones.js", "ring.js", "awake.js"} {
		body := get(t, p, "/static/"+name).Body.String()
		for _, line := range strings.Split(body, "\n") {
			code, _, _ := strings.Cut(line, "//")
			if m := words.FindString(code); m != "" && m != `"use strict"` {
				t.Errorf("%s holds the text %s", name, m)
			}
		}
	}
	w := get(t, p, "/ring.js")
	has(t, w.Body.String(), `const said = {"gone":"This phone rings no more for flitch"`, `parts = [offline, "/static/flitch.css"]`)
	if kind := w.Header().Get("Content-Type"); !strings.HasPrefix(kind, "text/javascript") {
		t.Errorf("the worker is %q", kind)
	}
	body := get(t, p, "/offline").Body.String()
	has(t, body, "no connection to flitch", "own eyes")
	if regexp.MustCompile(`\d+\.\d`).MatchString(body) || strings.Contains(body, "<script") {
		t.Error("the page without network holds a number or a script")
	}
}
