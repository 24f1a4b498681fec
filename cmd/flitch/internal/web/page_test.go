package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

func has(t *testing.T, body string, wants ...string) {
	t.Helper()
	for _, want := range wants {
		if !strings.Contains(body, want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
}

func TestPageSaysTheGlanceInOrder(t *testing.T) {
	body := get(t, sampleHouse().page(t, record.Site{}), "/batches/OL-31-09").Body.String()
	at := 0
	for _, want := range []string{`class="word">now`, "Core of slab B, the slowest", "49.4", "14 s ago", "target 61.0 °C", "−1.9 °C/h",
		"Chamber, old-kettle", "set to 82.0 °C", "about 05:11 CET", "± 40 min", "after its limit", "come-up: 3 h 40 min of at most 6 h", "Stage", "smoke", "Ends: core at 61.0 °C", "next: rest",
		"Do next", "Turn slabs A and B", "overdue by 30 min", "Clock nearest its limit", "come-up", "3 h 40 min of at most 6 h",
		"Other slabs", "no reading", "Fridge, alder", "OLD", "40 min ago", "above 4.4 °C today: 12 min", "above 4.4 °C in this batch: 25 min", "Last turn: 17 Nov 07:31 CET, TV",
		"Smoker cold", "Nobody has it yet", "Wood or fuel last added", "50 min ago", "To the end of the heat about 100 min", `formaction="/wood"`,
		"Hand reading", "Note, photo", `href="/alarms/7#quiet"`, "Silence 15 min", "/batches/OL-31-09/bedside", "Clocks", "not measured"} {
		next := strings.Index(body[at:], want)
		if next < 0 {
			t.Fatalf("%q is missing or not after what comes before it in the glance", want)
		}
		at += next
	}
}

func TestPageShowsTheSitesUnit(t *testing.T) {
	has(t, get(t, sampleHouse().page(t, record.Site{Fahrenheit: true}), "/batches/OL-31-09").Body.String(),
		"120.9", "target 141.8 °F", "−3.4 °F/h", "Reading in °F")
}

func TestStatesAreWords(t *testing.T) {
	for _, s := range []State{Fine, Look, Now, Blind} {
		h := sampleHouse()
		h.glances[0].State = s
		has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-09/glance").Body.String(), `<p class="word">`+string(s))
	}
	h := sampleHouse()
	h.glances[0].State = Blind
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-09/glance").Body.String(), "since 03:11 CET")
}

// What is asked of a sensor has two buttons, and what did not count stands with its reason.
func TestPageAsksAndCounts(t *testing.T) {
	h := sampleHouse()
	at := night.Add(-time.Hour)
	h.glances[0].Questions = []Question{{Probe: "alder-slow", Ask: process.UnitAsk{Since: at, Way: process.ToFahrenheit, Before: 3.8, Newest: process.Sample{At: night, Value: 38.8}}}}
	h.glances[0].LeftOut = []record.LeftOut{{Probe: "core-1", Placement: process.Core, Flagged: process.Flagged{Reason: "spike", Count: 2, Last: at, Spans: []process.Gap{{From: at, To: at}}}}}
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-09/glance").Body.String(),
		"What does sensor alder-slow send?", "It read 3.8 °C, and now 38.8 °C: the step that another unit makes.", "since 02:31 CET counts",
		`formaction="/unit" name="unit" value="alder-slow:F"`, `formaction="/unit" name="unit" value="alder-slow:C"`,
		"<strong>core-1</strong> 2 left out, alone between its neighbours: 18 Nov 02:31 CET")
}

func TestBareGlanceIsShown(t *testing.T) {
	h := &house{glances: []Glance{{Batch: "X", At: night, State: Fine}}}
	w := get(t, h.page(t, record.Site{}), "/batches/X")
	if w.Code != http.StatusOK {
		t.Errorf("status %d, want 200", w.Code)
	}
}

// The fragment is the glance and the four buttons, as the page has them.
func TestFragmentIsTheSameAsInThePage(t *testing.T) {
	p := sampleHouse().page(t, record.Site{})
	glance, reach, ok := strings.Cut(get(t, p, "/batches/OL-31-09/glance").Body.String(), `<div id="reach"`)
	if !ok {
		t.Fatal("the fragment has no buttons")
	}
	has(t, get(t, p, "/batches/OL-31-09").Body.String(), glance, `<div id="reach"`+strings.TrimSuffix(reach, "\n"))
}

func TestAddresses(t *testing.T) {
	two := sampleHouse()
	two.glances = append(two.glances, Glance{Batch: "PS-02", At: night, State: Fine})
	for _, c := range []struct {
		house  *house
		path   string
		status int
		want   string
	}{
		{sampleHouse(), "/", http.StatusSeeOther, ""},
		{two, "/", http.StatusSeeOther, ""}, // a fire is lit
		{two, "/batches", http.StatusOK, "OL-31-04"},
		{&house{}, "/", http.StatusOK, "No batch is open"},
		{two, "/batches/nope", http.StatusNotFound, "There is no open batch"},
		{two, "/batches/nope/glance", http.StatusNotFound, "There is no open batch"},
		{two, "/alarms/7", http.StatusOK, "Now a difference of 22.0 °C, limit a difference of 17.0 °C, worst a difference of 24.0 °C."},
		{two, "/alarms/5", http.StatusOK, "MO has it"},
		{two, "/alarms/99", http.StatusNotFound, "There is no alarm number"},
		{two, "/static/live.js", http.StatusOK, "EventSource"},
		{two, "/static/flitch.css", http.StatusOK, ":focus-visible"},
		{two, "/else", http.StatusNotFound, ""},
		{two, "/turned", http.StatusMethodNotAllowed, ""}, // nothing changes on GET
		{two, "/acknowledge", http.StatusMethodNotAllowed, ""},
		{&house{fault: errors.New("disk gone")}, "/", http.StatusInternalServerError, "own eyes"},
		{&house{fault: errors.New("disk gone")}, "/batches/X", http.StatusInternalServerError, "own eyes"},
		{&house{fault: errors.New("disk gone")}, "/batches/X/glance", http.StatusInternalServerError, "own eyes"},
		{&house{fault: errors.New("disk gone")}, "/alarms/7", http.StatusInternalServerError, "own eyes"},
	} {
		w := get(t, c.house.page(t, record.Site{}), c.path)
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.want) {
			t.Errorf("GET %s: %d, want %d with %q; body %.300s", c.path, w.Code, c.status, c.want, w.Body)
		}
		if strings.Contains(w.Body.String(), "disk gone") {
			t.Errorf("GET %s tells the inner fault to the world", c.path)
		}
	}
}

// The content policy allows no inline script or style, and the page has to work
// from our own files alone.
func TestPagesObeyTheContentPolicy(t *testing.T) {
	h := sampleHouse()
	for _, path := range []string{"/batches", "/batches/OL-31-09", "/alarms/7"} {
		body := get(t, h.page(t, record.Site{}), path).Body.String()
		for _, bad := range []string{" style=", "<style", " onclick", "javascript:", "http://", "https://", "<script>"} {
			if strings.Contains(body, bad) {
				t.Errorf("%s holds %q", path, bad)
			}
		}
	}
}

func TestEveryFieldHasALabel(t *testing.T) {
	for _, path := range []string{"/batches", "/batches/OL-31-09", "/alarms/7"} {
		labelled(t, get(t, sampleHouse().page(t, record.Site{}), path).Body.String(), path)
	}
}

func labelled(t *testing.T, body, path string) {
	t.Helper()
	field := regexp.MustCompile(`<(?:input|select|textarea)[^>]*>`)
	id := regexp.MustCompile(` id="([^"]+)"`)
	fields := field.FindAllStringIndex(body, -1)
	if len(fields) == 0 {
		t.Errorf("%s has no fields", path)
	}
	for _, at := range fields {
		tag := body[at[0]:at[1]]
		name := id.FindStringSubmatch(tag)
		inside := strings.LastIndex(body[:at[0]], "<label") > strings.LastIndex(body[:at[0]], "</label")
		if strings.Contains(tag, `type="hidden"`) || inside || name != nil && strings.Contains(body, `for="`+name[1]+`"`) {
			continue
		}
		t.Errorf("%s: no label for %s", path, tag)
	}
}

func TestWhatIsNotOursIsEscaped(t *testing.T) {
	h := sampleHouse()
	h.glances[0].Why, h.glances[0].Stage.Prompt = "<script>1</script>", `"><img src=x>`
	h.glances[0].Pieces[0] = `"><b>`
	body := get(t, h.page(t, record.Site{}), "/batches/OL-31-09").Body.String()
	for _, bad := range []string{"<script>1", "<img src=x", "<b>"} {
		if strings.Contains(body, bad) {
			t.Errorf("the page holds %s unescaped", bad)
		}
	}
}

// Every text that a template or a line of Go asks for exists, and none is idle. A field of a
// form gets the key of its label as an argument ("begin.weight"), and a key may be put
// together from a beginning with a point at its end ("begin.word.").
func TestTextsAreComplete(t *testing.T) {
	asked := regexp.MustCompile(`\b(?:t "|must\(")([a-z.]+)"`)
	named := regexp.MustCompile(`"([a-z]+(?:\.[a-z0-9-]+)+|[a-z]+(?:\.[a-z]+)*\.)"`)
	used, labels, beginnings := make(map[string]bool), make(map[string]bool), []string{}
	for _, kind := range []string{"*.html", "*.go"} {
		names, err := filepath.Glob(kind)
		if err != nil || len(names) == 0 {
			t.Fatalf("no %s found: %v", kind, err)
		}
		for _, name := range names {
			source, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range asked.FindAllStringSubmatch(string(source), -1) {
				used[m[1]] = !strings.HasSuffix(m[1], ".")
			}
			for _, m := range named.FindAllStringSubmatch(string(source), -1) {
				if labels[m[1]] = true; strings.HasSuffix(m[1], ".") {
					beginnings = append(beginnings, m[1])
				}
			}
		}
	}
	for key, whole := range used {
		if _, ok := texts[key]; !ok && whole {
			t.Errorf("no text is called %q", key)
		}
	}
	for key := range texts {
		begun := slices.ContainsFunc(beginnings, func(b string) bool { return strings.HasPrefix(key, b) })
		if !used[key] && !labels[key] && !begun && !namesAKey(key) {
			t.Errorf("text %q is not used", key)
		}
	}
}

func TestNoVerdictAboutTheProduct(t *testing.T) {
	words := regexp.MustCompile(`(?i)\b(safe|cured|pasteurised|approved)\b`)
	for key, text := range texts {
		if words.MatchString(text) {
			t.Errorf("text %q: %s", key, text)
		}
	}
}

func TestNearestClock(t *testing.T) {
	run := func(name process.ClockName, sum, limit float64, atLeast bool) process.Clock {
		return process.Clock{Name: name, Sum: sum, Limit: limit, AtLeast: atLeast, Running: true}
	}
	for _, c := range []struct {
		clocks []process.Clock
		want   process.ClockName
	}{
		{nil, ""},
		{[]process.Clock{{Name: "stopped", Sum: 9, Limit: 10}}, ""},
		{[]process.Clock{run("a", 1, 10, false), run("b", 5, 10, false)}, "b"},
		{[]process.Clock{run("cure", 9, 10, true), run("danger", 1, 10, false)}, "danger"},
		{[]process.Clock{run("danger", 1, 10, false), run("cure", 9, 10, true)}, "danger"},
		{[]process.Clock{run("no limit", 9, 0, false), run("cure", 1, 10, true)}, "cure"},
	} {
		got, found := Glance{Clocks: c.clocks}.Nearest()
		if got.Name != c.want || found != (c.want != "") {
			t.Errorf("got %q, want %q", got.Name, c.want)
		}
	}
}

func TestGlanceAsJSON(t *testing.T) {
	text, err := json.Marshal(sampleHouse().glances[0])
	if err != nil {
		t.Fatal(err)
	}
	has(t, string(text), `"state":"now"`, `"level":"ring"`, `"give_ns":2400000000000`, `"at":"2026-11-18T02:31:00Z"`, `"k_per_h":-1.9`)
}

func TestPageOfYesterdayIsNotKept(t *testing.T) {
	for _, path := range []string{"/batches", "/batches/OL-31-09", "/batches/OL-31-09/glance"} {
		if got := get(t, sampleHouse().page(t, record.Site{}), path).Header().Get("Cache-Control"); got != "no-store" {
			t.Errorf("%s: Cache-Control %q, want no-store", path, got)
		}
	}
}

func TestInitialsAreRemembered(t *testing.T) {
	p := sampleHouse().page(t, record.Site{})
	cookies := post(t, p, "/turned", "batch=OL-31-09&by=Ä.V.").Result().Cookies()
	if len(cookies) != 1 || !cookies[0].HttpOnly || cookies[0].SameSite != http.SameSiteLaxMode {
		t.Fatalf("cookies %v", cookies)
	}
	r := httptest.NewRequest(http.MethodGet, "/batches/OL-31-09", nil)
	r.AddCookie(cookies[0])
	w := httptest.NewRecorder()
	p.ServeHTTP(w, r)
	has(t, w.Body.String(), `value="Ä.V."`)
}

func TestTimesOfTodayAreShort(t *testing.T) {
	s := server{Deps: Deps{Clock: &house{}}}
	if a, b := s.short(night.Add(-time.Hour)), s.short(night.Add(-3*time.Hour)); a != "01:31 UTC" || b != "17 Nov 23:31 UTC" {
		t.Errorf("got %q and %q", a, b)
	}
}
