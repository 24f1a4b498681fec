package web

import (
	"errors"
	"net/http"
	"reflect"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

func TestFormsBecomeCommands(t *testing.T) {
	for _, c := range []struct {
		path, form string
		want       process.Command
		goes       string
	}{
		{"/acknowledge", "id=x&batch=OL-31-09&by=TV&alarm=7", process.Command{ID: "x-acknowledge-7", Kind: process.CommandAcknowledge, Batch: "OL-31-09", By: "TV", Alarm: 7, At: night}, "/batches/OL-31-09?done"},
		{"/acknowledge", "by=TV&alarm=7", process.Command{ID: "id1-acknowledge-7", Kind: process.CommandAcknowledge, By: "TV", Alarm: 7, At: night}, "/batches?done"},
		{"/acknowledge", "by=TV&alarm=7&back=alarm", process.Command{ID: "id1-acknowledge-7", Kind: process.CommandAcknowledge, By: "TV", Alarm: 7, At: night}, "/alarms/7?done"},
		{"/turned", "id=x&batch=OL-31-09&by=TV", process.Command{ID: "x-turned", Kind: process.CommandTurned, Batch: "OL-31-09", By: "TV", At: night}, "/batches/OL-31-09?done"},
		{"/turned", "id=x&batch=OL-31-09&by=TV&when=2026-11-17T20:15", process.Command{ID: "x-turned", Kind: process.CommandTurned, Batch: "OL-31-09", By: "TV", At: time.Date(2026, 11, 17, 19, 15, 0, 0, time.UTC)}, "/batches/OL-31-09?done"},
		{"/stage", "id=x&batch=OL-31-09&by=TV&stage=rest", process.Command{ID: "x-stage-rest", Kind: process.CommandStage, Batch: "OL-31-09", By: "TV", Stage: process.StageRest, At: night}, "/batches/OL-31-09?done"},
		{"/stage", "id=x&batch=OL-31-09&by=TV&stage=rest&text=weighed,+not+logged", process.Command{ID: "x-stage-rest", Kind: process.CommandStage, Batch: "OL-31-09", By: "TV", Stage: process.StageRest, Text: "weighed, not logged", At: night}, "/batches/OL-31-09?done"},
		{"/close", "id=x&batch=OL-31-09&by=TV", process.Command{ID: "x-close", Kind: process.CommandClose, Batch: "OL-31-09", By: "TV", At: night}, "/batches?done"},
		{"/reading", "id=x&batch=OL-31-09&by=TV&where=core:A&value=61,5&text=pocket+no+2", process.Command{ID: "x-reading", Kind: process.CommandReading, Batch: "OL-31-09", By: "TV", Placement: process.Core, Pieces: []string{"A"}, Value: 61.5, Text: "pocket no 2", At: night}, "/batches/OL-31-09?done"},
		{"/reading", "id=x&batch=OL-31-09&by=TV&where=product&value=-1.5", process.Command{ID: "x-reading", Kind: process.CommandReading, Batch: "OL-31-09", By: "TV", Placement: process.Product, Value: -1.5, At: night}, "/batches/OL-31-09?done"},
		{"/unit", "id=x&batch=OL-31-09&by=TV&unit=alder-slow:F", process.Command{ID: "x-unit-alder-slow:F", Kind: process.CommandUnit, By: "TV", Unit: &process.UnitSaid{Probe: "alder-slow", Unit: "F"}, At: night}, "/batches/OL-31-09?done"},
		{"/duty", "id=x&by=TV&until=07:00", process.Command{ID: "x-duty", Kind: process.CommandDuty, By: "TV", Until: time.Date(2026, 11, 18, 6, 0, 0, 0, time.UTC), At: night}, "/batches?done"},
		{"/shelve", "id=x&by=TV&alarm=7&back=alarm&until=03:31&text=loading", process.Command{ID: "x-shelve-7", Kind: process.CommandShelve, By: "TV", Alarm: 7, Text: "loading", Until: night.Add(24 * time.Hour), At: night}, "/alarms/7?done"},
		{"/judge", "id=x&by=TV&alarm=7&back=alarm&text=late", process.Command{ID: "x-judge-7", Kind: process.CommandJudge, By: "TV", Alarm: 7, Text: "late", At: night}, "/alarms/7?done"},
		{"/note", "id=x&batch=OL+31/09&by=TV&text=relit", process.Command{ID: "x-note", Kind: process.CommandNote, Batch: "OL 31/09", By: "TV", Text: "relit", At: night}, "/batches/OL%2031%2F09?done"},
	} {
		h := sampleHouse()
		w := post(t, h.page(t, record.Site{}), c.path, c.form)
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != c.goes {
			t.Errorf("%s %s: %d to %q, want 303 to %q", c.path, c.form, w.Code, w.Header().Get("Location"), c.goes)
		}
		if len(h.said) != 1 {
			t.Fatalf("%s %s: %d commands, want 1", c.path, c.form, len(h.said))
		}
		c.want.Typed = night
		if got := h.said[0]; !same(got, c.want) {
			t.Errorf("%s %s:\n got %+v\nwant %+v", c.path, c.form, got, c.want)
		}
	}
}

func same(a, b process.Command) bool {
	return a.ID == b.ID && a.Kind == b.Kind && a.Batch == b.Batch && a.By == b.By && a.At.Equal(b.At) && a.Typed.Equal(b.Typed) &&
		a.Stage == b.Stage && strings.Join(a.Pieces, ",") == strings.Join(b.Pieces, ",") && a.Placement == b.Placement &&
		a.Value == b.Value && a.Text == b.Text && a.Alarm == b.Alarm && a.New == nil && reflect.DeepEqual(a.Unit, b.Unit) && a.Until.Equal(b.Until)
}

func TestReadingInFahrenheitIsKeptInCelsius(t *testing.T) {
	h := sampleHouse()
	post(t, h.page(t, record.Site{Fahrenheit: true}), "/reading", "batch=OL-31-09&by=TV&where=core:A&value=131")
	if len(h.said) != 1 || h.said[0].Value != 55 {
		t.Errorf("said %+v, want 55 °C", h.said)
	}
}

func TestBadFormsAreRefusedInWords(t *testing.T) {
	for _, c := range []struct{ path, form, want string }{
		{"/turned", "batch=OL-31-09", "Who are you?"},
		{"/turned", "batch=OL-31-09&by=+", "Who are you?"},
		{"/turned", "batch=OL-31-09&by=123456789", "Who are you?"},
		{"/turned", "batch=OL-31-09&by=TV&when=yesterday", "is not a time"},
		{"/unit", "batch=OL-31-09&by=TV&unit=F", "names no sensor and unit"},
		{"/turned", "by=TV%zz", "could not be read"},
		{"/turned", "by=TV&text=" + strings.Repeat("x", maxForm), "could not be read"},
		{"/acknowledge", "by=TV&alarm=", "is not the number of an alarm"},
		{"/acknowledge", "by=TV&alarm=0", "is not the number of an alarm"},
		{"/reading", "batch=OL-31-09&by=TV&where=core:A&value=", "is not a temperature"},
		{"/reading", "batch=OL-31-09&by=TV&where=core:A&value=NaN", "is not a temperature"},
		{"/reading", "batch=OL-31-09&by=TV&where=core:A&value=1e9", "is not a temperature"},
		{"/reading", "batch=OL-31-09&by=TV&where=core:A&value=1,234.5", "is not a temperature"},
		{"/reading", "batch=OL-31-09&by=TV&where=door&value=1", "Say where"},
		{"/reading", "batch=OL-31-09&by=TV&value=1", "Say where"},
		{"/note", "batch=OL-31-09&by=TV&text=+", "The note is empty"},
		{"/duty", "by=TV&until=25:00", "is no time of day"},
		{"/duty", "by=TV", "is no time of day"},
		{"/shelve", "by=TV&alarm=7&until=7&text=loading", "is no time of day"},
		{"/judge", "by=TV&alarm=x&text=late", "is not the number of an alarm"},
		{"/shelve", "by=TV&alarm=x&until=07:00&text=loading", "is not the number of an alarm"},
	} {
		h := sampleHouse()
		w := post(t, h.page(t, record.Site{}), c.path, c.form)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), c.want) || !strings.Contains(w.Body.String(), `role="alert"`) {
			t.Errorf("%s %.80s: %d, want 422 with %q", c.path, c.form, w.Code, c.want)
		}
		if len(h.said) != 0 {
			t.Errorf("%s %.80s: a command was given", c.path, c.form)
		}
	}
}

func TestRefusalIsShownAndTypingKept(t *testing.T) {
	h := sampleHouse()
	h.answer = &process.Refusal{What: "slab Q is not in batch OL-31-09", Hint: "choose A or B"}
	w := post(t, h.page(t, record.Site{}), "/reading", "batch=OL-31-09&by=TV&where=core:B&value=61.5&text=pocket")
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("status %d, want 422", w.Code)
	}
	has(t, w.Body.String(), "slab Q is not in batch OL-31-09", "choose A or B", `value="61.5"`, `value="pocket"`, `value="TV"`, `value="core:B" selected`)
}

// A stage that was refused may be entered all the same, with a reason.
func TestARefusedStageAsksForAReason(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	if w := get(t, p, "/batches/OL-31-09"); strings.Contains(w.Body.String(), "all the same") {
		t.Error("a reason is asked for before anything was refused")
	}
	h.answer = &process.Refusal{What: "B: no cure was logged", Hint: "log it"}
	w := post(t, p, "/stage", "batch=OL-31-09&by=TV&stage=rest")
	has(t, w.Body.String(), "B: no cure was logged", "Why it goes on all the same", `name="stage" value="rest"`)
}

func TestInnerFaultIsNotShown(t *testing.T) {
	h := sampleHouse()
	h.answer = errors.New("commit: disk I/O error")
	w := post(t, h.page(t, record.Site{}), "/turned", "batch=OL-31-09&by=TV")
	if w.Code != http.StatusInternalServerError || strings.Contains(w.Body.String(), "disk I/O") {
		t.Errorf("status %d, want 500 without the cause; body %.200s", w.Code, w.Body)
	}
	has(t, w.Body.String(), "nothing was entered")
}

// A double tap sends the same form twice; both carry the same identity.
func TestDoubleTapIsOneCommand(t *testing.T) {
	h := sampleHouse()
	p := h.page(t, record.Site{})
	post(t, p, "/turned", "id=x&batch=OL-31-09&by=TV")
	post(t, p, "/turned", "id=x&batch=OL-31-09&by=TV")
	if len(h.said) != 2 || h.said[0].ID != h.said[1].ID {
		t.Errorf("said %+v, want the same identity twice", h.said)
	}
}
