package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/record"
)

// entriesHouse has a turn of half a minute ago, an older reading that was corrected, and a
// stage that was struck out.
func entriesHouse() *house {
	h := sampleHouse()
	old := night.Add(-2 * time.Hour)
	h.entries = []record.Entry{
		{ID: "r1", Kind: process.CommandReading, Happened: old, Typed: old, By: "TV", Placement: process.Core, Piece: "A", Value: 64.5,
			Struck: &record.Strike{ID: "r2", By: "MO", At: old.Add(5 * time.Minute), Why: "read 46, typed 64", Instead: true}},
		{ID: "s/1?", Kind: process.CommandStage, Happened: old, Typed: old, By: "TV", Text: "smoke", Struck: &record.Strike{ID: "x", By: "TV", At: old.Add(time.Minute)}},
		{ID: "r2", Kind: process.CommandReading, Happened: old, Typed: old.Add(5 * time.Minute), By: "MO", Placement: process.Core, Piece: "A", Value: 46.5, Text: "needle 2"},
		{ID: "n/1?", Kind: process.CommandNote, Happened: old, Typed: old, By: "TV", Text: "<relit>"},
		{ID: "w1", Kind: process.CommandWeighed, Happened: old, Typed: old, By: "TV", Placement: process.Weight, Piece: "A", Value: 1890},
		{ID: "c1", Kind: process.CommandCounted, Happened: old, Typed: old, By: "TV", Value: 7, Text: "7 pieces of 8, in smoke"},
		{ID: "t1", Kind: process.CommandTurned, Happened: night.Add(-30 * time.Second), Typed: night.Add(-30 * time.Second), By: "TV", Text: "all pieces"},
	}
	return h
}

func TestWhatWasEnteredCanBeTakenBackForAMinute(t *testing.T) {
	h := entriesHouse()
	p := h.page(t, record.Site{})
	text := get(t, p, "/batches/OL-31-09?done=t1").Body.String()
	has(t, text, "Entered.", "Turned, all slabs", `action="/strike" data-for="30000"`, `name="strikes" value="t1"`, "Take it back", "/static/takeback.js", `<label>You (initials) <input name="by" value="" required`)
	text = get(t, p, "/batches/OL-31-09?done=t1&already").Body.String()
	has(t, text, "TV entered that at 03:30 CET.", "One entry stands.")
	if strings.Contains(text, "Take it back") {
		t.Error("the second of two is offered to take back what the first has entered")
	}
	h.entries[6].Typed = night.Add(-61 * time.Second)
	if text = get(t, p, "/batches/OL-31-09?done=t1").Body.String(); strings.Contains(text, "Take it back") {
		t.Error("offered after the minute")
	}
	has(t, get(t, p, "/batches?batch=OL-31-09&done=r2").Body.String(), "Hand reading, core A", `role="status"`)
	has(t, get(t, p, "/batches/OL-31-09?done=s%2F1%3F").Body.String(), "Taken back. It counts for nothing", "<s>Stage smoke entered</s>")
	has(t, get(t, p, "/batches/OL-31-09?done=nobody").Body.String(), `role="status">Entered.`)
}

func TestTheEntriesOfABatch(t *testing.T) {
	h := entriesHouse()
	p := h.page(t, record.Site{})
	text := get(t, p, "/batches/OL-31-09").Body.String()
	has(t, text, "What was entered", "All 7 entries", "Counted: 7 pieces of 8", `href="/batches/OL-31-09/entries/t1"`)
	if strings.Contains(text, "64.5") {
		t.Error("more than the newest five on the page of the batch")
	}
	text = get(t, p, "/batches/OL-31-09/entries").Body.String()
	has(t, text, "<s>Hand reading, core A: 64.5 °C</s>", "<strong>CORRECTED</strong> by MO, 01:36 CET: read 46, typed 64", "stands in the place of a line",
		"<s>Stage smoke entered</s>", "<strong>STRUCK OUT</strong> by TV", "&lt;relit&gt;", `href="/batches/OL-31-09/entries/n%2F1%3F"`)
	if n := strings.Count(text, `class="correct"`); n != 5 {
		t.Errorf("%d entries can be corrected, want the 5 that count", n)
	}
	fahrenheit := h.page(t, record.Site{Fahrenheit: true})
	has(t, get(t, fahrenheit, "/batches/OL-31-09/entries").Body.String(), "core A: 115.7 °F")
	if w := get(t, p, "/batches/OL-31-09/entries/q"); w.Code != http.StatusNotFound {
		t.Errorf("an entry that is not there: %d", w.Code)
	}
}

func TestCorrectionsBecomeCommands(t *testing.T) {
	old := night.Add(-2 * time.Hour)
	for _, c := range []struct {
		name, path, form string
		want             process.Command
	}{
		{"struck out", "t1", "id=x&by=TV&strike=yes", process.Command{ID: "x-struck", Kind: process.CommandStruck, Strikes: "t1", At: night}},
		{"an old one struck out", "n%2F1%3F", "id=x&by=TV&strike=yes&why=another+batch", process.Command{ID: "x-struck", Kind: process.CommandStruck, Strikes: "n/1?", Why: "another batch", At: night}},
		{"another value", "r2", "id=x&by=TV&why=typed&when=2026-11-18T01:31&where=core:B&value=47,25&text=needle+2", process.Command{ID: "x-reading-instead", Kind: process.CommandReading,
			Strikes: "r2", Why: "typed", At: old, Placement: process.Core, Pieces: []string{"B"}, Value: 47.25, Text: "needle 2"}},
		{"another time", "w1", "id=x&by=TV&why=late&when=2026-11-18T01:15&where=A&value=1890", process.Command{ID: "x-weighed-instead", Kind: process.CommandWeighed,
			Strikes: "w1", Why: "late", At: old.Add(-16 * time.Minute), Pieces: []string{"A"}, Value: 1890}},
		{"another count", "c1", "id=x&by=TV&why=one+more&when=2026-11-18T01:31&value=8", process.Command{ID: "x-counted-instead", Kind: process.CommandCounted,
			Strikes: "c1", Why: "one more", At: old, Value: 8}},
		{"other slabs", "t1", "id=x&by=TV&when=2026-11-18T03:30&piece=A&piece=B", process.Command{ID: "x-turned-instead", Kind: process.CommandTurned,
			Strikes: "t1", At: night.Add(-30 * time.Second), Pieces: []string{"A", "B"}}},
		{"another text", "n%2F1%3F", "id=x&by=TV&why=no&when=2026-11-18T01:31&text=ash", process.Command{ID: "x-note-instead", Kind: process.CommandNote,
			Strikes: "n/1?", Why: "no", At: old, Text: "ash"}},
	} {
		h := entriesHouse()
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-09/entries/"+c.path, c.form)
		if w.Code != http.StatusSeeOther || len(h.said) != 1 {
			t.Fatalf("%s: %d, %d commands; %s", c.name, w.Code, len(h.said), w.Body)
		}
		c.want.Typed, c.want.Batch, c.want.By = night, "OL-31-09", "TV"
		if got := h.said[0]; !same(got, c.want) || got.Strikes != c.want.Strikes || got.Why != c.want.Why {
			t.Errorf("%s:\n got %+v\nwant %+v", c.name, got, c.want)
		}
	}
}

// What was not touched keeps its number, whatever the degrees of the browser round it to.
func TestACorrectionInFahrenheitKeepsWhatWasNotTouched(t *testing.T) {
	h := entriesHouse()
	h.entries[2].Value = 46.53
	p := h.page(t, record.Site{Fahrenheit: true})
	has(t, get(t, p, "/batches/OL-31-09/entries/r2").Body.String(), `value="115.8"`, "Reading in °F")
	post(t, p, "/batches/OL-31-09/entries/r2", "by=TV&why=x&when=2026-11-18T01:31&where=core:A&value=115.8")
	post(t, p, "/batches/OL-31-09/entries/r2", "by=TV&why=x&when=2026-11-18T01:31&where=core:A&value=122")
	if len(h.said) != 2 || h.said[0].Value != 46.53 || h.said[1].Value != 50 {
		t.Errorf("said %+v", h.said)
	}
}

func TestACorrectionThatIsWrongIsToldBesideItsField(t *testing.T) {
	for _, c := range []struct{ path, form, field, want string }{
		{"r2", "by=TV&when=2026-11-18T01:31&where=core:A&value=47", "why", "say why it was wrong"},
		{"r2", "by=TV&strike=yes", "strike-why", "say why it was wrong"},
		{"t1", "by=&when=2026-11-18T03:30", "by", "Type your initials"},
		{"r2", "by=TV&why=x&when=soon&where=core:A&value=47", "when", "is not a time"},
		{"r2", "by=TV&why=x&when=2026-11-18T01:31&where=core:A&value=warm", "value", "is not a temperature"},
		{"r2", "by=TV&why=x&when=2026-11-18T01:31&where=moon&value=47", "where", "choose from the list"},
		{"w1", "by=TV&why=x&when=2026-11-18T01:31&where=A&value=-3", "value", "is not a weight"},
		{"c1", "by=TV&why=x&when=2026-11-18T01:31&value=7.5", "value", "is no number of slabs"},
		{"n%2F1%3F", "by=TV&why=x&when=2026-11-18T01:31&text=", "text", "The note is empty"},
	} {
		h := entriesHouse()
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-09/entries/"+c.path, c.form)
		text := w.Body.String()
		if w.Code != http.StatusUnprocessableEntity || len(h.said) != 0 {
			t.Fatalf("%s %s: %d, %d commands", c.path, c.form, w.Code, len(h.said))
		}
		has(t, text, `aria-describedby="`+c.field+`-wrong"`, `id="`+c.field+`-wrong"`, c.want)
		if n := strings.Count(text, `role="alert"`); n != 1 {
			t.Errorf("%s %s: %d complaints", c.path, c.form, n)
		}
	}
	h := entriesHouse()
	h.answer = &process.Refusal{What: "stage rest was entered after it", Hint: "strike out rest first"}
	w := post(t, h.page(t, record.Site{}), "/batches/OL-31-09/entries/r2", "by=TV&why=typed+wrong&when=2026-11-18T01:31&where=core:B&value=47")
	has(t, w.Body.String(), "strike out rest first", `value="47"`, `value="typed wrong"`, `value="core:B" selected`)
}

// Two phones, one button: the second sees who was first, and no error.
func TestTheSecondThumbIsTold(t *testing.T) {
	h := entriesHouse()
	h.answer = &process.Refusal{What: "TV entered that", Already: &process.Entered{ID: "t1", Kind: process.CommandTurned, By: "TV", Typed: night}}
	p := h.page(t, record.Site{})
	if w := post(t, p, "/turned", "batch=OL-31-09&by=MO"); w.Header().Get("Location") != "/batches/OL-31-09?done=t1&already" {
		t.Errorf("goes to %q", w.Header().Get("Location"))
	}
	h.answer = &process.Refusal{What: "TV struck that out", Already: &process.Entered{ID: "x9", Kind: process.CommandStruck, By: "TV", Typed: night}}
	if w := post(t, p, "/strike", "batch=OL-31-09&by=MO&strikes=t1"); w.Header().Get("Location") != "/batches/OL-31-09?done=t1" {
		t.Errorf("goes to %q", w.Header().Get("Location"))
	}
}

func TestAnAnswerCanBeTakenBack(t *testing.T) {
	h := entriesHouse()
	a := &h.alarms[0]
	a.AcknowledgedAt, a.AcknowledgedBy = night.Add(-10*time.Second), "TV"
	a.Answers = []alerts.Answer{{ID: "a0", By: "MO", At: night.Add(-time.Hour), Withdrawn: &alerts.Withdrawal{By: "MO", At: night.Add(-50 * time.Minute), Why: "cannot leave"}},
		{ID: "a1", By: "TV", At: night.Add(-10 * time.Second)}}
	p := h.page(t, record.Site{})
	text := get(t, p, "/alarms/7?done=a1").Body.String()
	has(t, text, "On it: alarm 7", `data-for="50000"`, `name="strikes" value="a1"`, `name="back" value="alarm"`, "<s>MO, 02:31 CET</s>", "taken back by MO, 02:41 CET</strong>: cannot leave",
		"Nobody is on it: ask again")
	has(t, get(t, p, "/batches?done=a1").Body.String(), "On it: alarm 7", "Take it back")
	has(t, get(t, p, "/alarms/7?done=a0").Body.String(), "Taken back. Nobody is on it: it asks again.")
	w := post(t, p, "/strike", "id=x&by=TV&strikes=a1&alarm=7&back=alarm&why=wrong+fridge")
	if w.Header().Get("Location") != "/alarms/7?done=a1" || h.said[0].Kind != process.CommandStruck || h.said[0].Strikes != "a1" || h.said[0].Why != "wrong fridge" {
		t.Errorf("goes to %q, said %+v", w.Header().Get("Location"), h.said)
	}
	h.answer = &process.Refusal{What: "it was entered more than a minute ago", Hint: "say why"}
	w = post(t, p, "/strike", "by=TV&strikes=a1&alarm=7&back=alarm")
	has(t, w.Body.String(), "more than a minute ago", "<details open><summary>Take back")
}
