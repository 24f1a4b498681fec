package api

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/chart"
)

func TestReads(t *testing.T) {
	for _, c := range []struct {
		path   string
		status int
		want   string
	}{
		{"/api/batches", 200, "[]\n"},
		{"/api/batches/OL-31-09", 200, `"id":"OL-31-09"`},
		{"/api/batches/nope", 404, `"hint":"list them`},
		{"/api/alarms", 200, `"level":"ring"`},
		{"/api/glance", 200, `"state":"fine"`},
		{"/api/batches/OL-31-09/ready-text?about=C2", 200, `"about":"C2","cause":"Product sensor over 5.0 °C. Cause: __."`},
		{"/api/batches/OL-31-09/ready-text", 422, "about nothing"},
		{"/api/batches/nope/ready-text?about=C2", 404, "there is no batch nope"},
		{"/api/nothing", 404, `"error":"there is no GET /api/nothing"`},
		{"/api/commands", 404, `POST /api/commands`},
		{"/healthz", 200, `{"ok":true}`},
		{"/batches/OL-31-09", 200, "page /batches/OL-31-09"},
		{"/batches/OL-31-09/glance", 200, "page /batches/OL-31-09/glance"},
		{"/", 200, "page /"},
		{"/batches/OL-31-09/record.csv", 200, "time_utc,time_local,batch"},
		{"/batches/OL-31-09/record.json", 200, `"readings_sha256"`},
		{"/batches/OL-31-09/record.html", 200, "Not a validated process"},
		{"/batches/OL-31-09/record.pdf", 200, "%PDF-1"},
		{"/batches/OL-31-09/record.pdf?for=customer&paper=letter", 200, "%PDF-1"},
		{"/batches/OL-31-09/record.xlsx?for=self", 200, "PK"},
		{"/batches/OL-31-09/record.html?for=customer", 200, "Keep and cook"},
		{"/batches/OL-31-09/record.html?for=cat", 422, "say for inspector, customer or self"},
		{"/batches/OL-31-09/record.csv?for=customer", 422, "for a customer take pdf, html or xlsx"},
		{"/batches/OL-31-09/record.pdf?paper=papyrus", 422, "say a4 or letter"},
		{"/batches/OL-31-09/record.doc", 200, "page /batches/OL-31-09/record.doc"},
		{"/batches/nope/record.pdf", 404, "there is no batch nope"},
		{"/batches/nope/record.xlsx", 404, "there is no batch nope"},
		{"/batches/OL-31-09/chart.svg", 200, "<svg"},
		{"/batches/nope/record.csv", 404, "there is no batch nope"},
		{"/batches/nope/chart.svg", 404, "there is no batch nope"},
		{"/batches/nope/chart.json", 404, "there is no batch nope"},
		{"/batches/OL-31-09/chart.json?width=340", 200, `"name":"core A"`},
		{"/batches/OL-31-09/cure.svg?width=340", 200, `width="340"`},
		{"/batches/OL-31-09/cook.svg", 404, "nothing to draw of the cook"},
		{"/batches/nope/cure.svg", 404, "there is no batch nope"},
		{"/batches/OL-31-09/cure.svg?width=wide", 422, "a whole number from 300"},
		{"/batches/OL-31-09/chart", 200, "page /batches/OL-31-09/chart"},
		{"/batches/OL-31-09/chart.svg?width=340&hours=24", 200, `width="340"`},
		{"/batches/OL-31-09/chart.svg?from=yesterday", 422, "write it like"},
		{"/batches/OL-31-09/chart.svg?to=1", 422, "write it like"},
		{"/batches/OL-31-09/chart.svg?width=99999", 422, "a whole number from 300"},
		{"/batches/OL-31-09/chart.svg?hours=-1", 422, "a whole number from 1"},
		{"/batches/OL-31-09/chart.svg?from=2026-11-18T00:00:00Z&to=2026-11-17T00:00:00Z", 422, "end before it begins"},
		{"/metrics", 200, "page /metrics"}, // none given
	} {
		w := ask(t, New((&house{}).deps()), request(http.MethodGet, c.path, ""))
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.want) {
			t.Errorf("GET %s: %d, want %d with %q; body %.200s", c.path, w.Code, c.status, c.want, w.Body)
		}
	}
}

func TestFaultsInside(t *testing.T) {
	for _, path := range []string{"/api/batches", "/api/batches/OL-31-09", "/api/alarms", "/api/glance", "/batches/OL-31-09/record.csv", "/batches/OL-31-09/chart.svg"} {
		w := ask(t, New((&house{fault: errDisk}).deps()), request(http.MethodGet, path, ""))
		if w.Code != 500 || strings.Contains(w.Body.String(), "disk gone") {
			t.Errorf("GET %s: %d %s, want 500 without the cause", path, w.Code, w.Body)
		}
	}
	w := ask(t, New((&house{faults: []Fault{{"disk", "full: free some space"}}}).deps()), request(http.MethodGet, "/healthz", ""))
	if w.Code != 503 || !strings.Contains(w.Body.String(), "free some space") {
		t.Errorf("GET /healthz: %d %s, want 503 with the fault", w.Code, w.Body)
	}
}

func TestCommands(t *testing.T) {
	for _, c := range []struct {
		body string
		want process.Command
	}{
		{`{"kind":"turned","batch":"OL-31-09","by":"TV"}`, process.Command{ID: "new-id", Kind: process.CommandTurned, At: night}},
		{`{"kind":"turned","batch":"OL-31-09","by":"TV","id":"` + strings.Repeat("x", 64) + `"}`, process.Command{ID: strings.Repeat("x", 64), Kind: process.CommandTurned, At: night}},
		{`{"kind":"struck","batch":"OL-31-09","by":"TV","strikes":"t1","why":"wrong"}`, process.Command{ID: "new-id", Kind: process.CommandStruck, Strikes: "t1", Why: "wrong"}},
		{`{"kind":"turned","batch":"OL-31-09","by":"TV","strikes":"t1","at":"2026-11-18T03:00:00+01:00"}`, process.Command{ID: "new-id", Kind: process.CommandTurned, Strikes: "t1", At: night.Add(-31 * time.Minute)}},
		{`{"id":"x","kind":"reading","batch":"OL-31-09","by":"TV","placement":"core","pieces":["A"],"value":0,"at":"2026-11-18T03:00:00+01:00"}`,
			process.Command{ID: "x", Kind: process.CommandReading, At: time.Date(2026, 11, 18, 2, 0, 0, 0, time.UTC)}},
		{`{"kind":"new","batch":"OL-31-09","by":"TV","new":{"plan":"belly","pieces":[{"name":"A","green_g":2268,"thickness_mm":38}],"fridge":"alder","smoker":"old-kettle","cores":{"needle-1":"A"}}}`,
			process.Command{ID: "new-id", Kind: process.CommandNew, At: night}},
	} {
		h := &house{}
		w := ask(t, New(h.deps()), request(http.MethodPost, "/api/commands", c.body))
		if w.Code != 200 || !strings.Contains(w.Body.String(), `"ok":true,"message":"`) || len(h.said) != 1 {
			t.Fatalf("%s: %d %s, %d commands", c.body, w.Code, w.Body, len(h.said))
		}
		got := h.said[0]
		if got.ID != c.want.ID || got.Kind != c.want.Kind || !got.At.Equal(c.want.At) || !got.Typed.Equal(night) || got.By != "TV" ||
			got.Strikes != c.want.Strikes || got.Why != c.want.Why {
			t.Errorf("%s: got %+v", c.body, got)
		}
		if (got.New != nil) != (c.want.Kind == process.CommandNew) {
			t.Errorf("%s: new %+v", c.body, got.New)
		}
	}
}

func TestBadCommands(t *testing.T) {
	for _, c := range []struct {
		body   string
		status int
		want   string
	}{
		{``, 400, "the body is empty"},
		{`{`, 400, "not a command"},
		{`[]`, 400, "what belongs there"},
		{`{"kind":"turned","by":"TV"} {}`, 400, "after the JSON object"},
		{`{"kind":"turned","by":"TV","typed":"2026-11-18T02:00:00Z"}`, 400, `unknown field \"typed\"`},
		{`{"kind":"turned","by":"TV","temprature":3}`, 400, `unknown field \"temprature\"`},
		{`{"kind":"reading","by":"TV","value":"61,5"}`, 400, `field \"value\"`},
		{`{"kind":"new","by":"TV","new":{"plan":"belly","probes":[]}}`, 400, "unknown field"},
		{`{"kind":"turned","by":"TV","text":"` + strings.Repeat("x", maxBody) + `"}`, 413, "longer than"},
		{`{"kind":"destroy","by":"TV"}`, 422, "is no command"},
		{`{"kind":"turned"}`, 422, "nobody said this"},
		{`{"kind":"turned","by":"TV","id":"` + strings.Repeat("x", 65) + `"}`, 422, "at most 64 bytes: leave it out"},
		{`{"kind":"turned","by":"TV","id":"` + strings.Repeat("é", 33) + `"}`, 422, "the id has 66 bytes"},
		{`{"kind":"duty","by":"TV","batch":"` + strings.Repeat("x", 65) + `"}`, 422, "GET /api/batches lists them"},
		{`{"kind":"turned","by":"TV","at":"0001-01-01T00:00:00Z"}`, 422, "the year 1 is not when"},
		{`{"kind":"new","by":"TV"}`, 422, "without a description"},
		{`{"kind":"turned","by":"TV","new":{}}`, 422, "description of a new batch"},
		{`{"kind":"reading","by":"TV"}`, 422, "without a number"},
		{`{"kind":"turned","by":"TV","dosing":{}}`, 422, "with a dose of cure"},
		{`{"kind":"turned","by":"TV","check":{}}`, 422, "with a check of a probe"},
		{`{"kind":"vital","by":"TV"}`, 422, "is no command"},
		{`{"kind":"note","by":"TV","action":{"about":"C2"}}`, 422, "with a corrective action"},
		{`{"kind":"note","by":"TV","disposition":"discard"}`, 422, "with a disposition"},
		{`{"kind":"note","by":"TV","photo":{"sha256":"x"}}`, 400, "unknown field"},
		{`{"kind":"disposition","by":"TV","covers":[]}`, 400, "unknown field"},
		{`{"kind":"struck","batch":"OL-31-09","by":"TV"}`, 422, "nothing is named to take back"},
		{`{"kind":"note","text":"x","by":"TV","why":"x"}`, 422, "nothing to strike out"},
		{`{"kind":"new","by":"TV","new":{"plan":"tofu"}}`, 422, "there is no plan tofu"},
	} {
		h := &house{}
		w := ask(t, New(h.deps()), request(http.MethodPost, "/api/commands", c.body))
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.want) || !strings.Contains(w.Body.String(), `"hint":`) {
			t.Errorf("%.90s: %d %s, want %d with %q", c.body, w.Code, w.Body, c.status, c.want)
		}
		if len(h.said) != 0 {
			t.Errorf("%.90s: a command was given", c.body)
		}
	}
}

func TestRefusalsOfTheBatch(t *testing.T) {
	for _, c := range []struct {
		err    error
		status int
	}{
		{&process.Refusal{What: "stage cook comes after dry", Hint: "enter dry first"}, 422},
		{&process.Refusal{What: "no such batch", Hint: "list them", NotFound: true}, 404},
		{errDisk, 500},
	} {
		w := ask(t, New((&house{answer: c.err}).deps()), request(http.MethodPost, "/api/commands", `{"kind":"turned","batch":"x","by":"TV"}`))
		if w.Code != c.status || !strings.Contains(w.Body.String(), `"error":`) || !strings.Contains(w.Body.String(), `"hint":`) {
			t.Errorf("%v: %d %s, want %d", c.err, w.Code, w.Body, c.status)
		}
	}
}

func FuzzCommandBody(f *testing.F) {
	f.Add(`{"kind":"turned","batch":"OL-31-09","by":"TV"}`)
	f.Add(`{"kind":"new","by":"TV","new":{"plan":"belly","pieces":[{"name":"A"}]}}`)
	f.Add(`{"kind":"reading","by":"TV","value":1e999}`)
	f.Add(`nonsense`)
	f.Fuzz(func(t *testing.T, body string) {
		h := &house{}
		w := ask(t, New(h.deps()), request(http.MethodPost, "/api/commands", body))
		if ok := w.Code == 200; ok != (len(h.said) == 1) || w.Code >= 500 {
			t.Errorf("%q: %d, %d commands", body, w.Code, len(h.said))
		}
	})
}

func TestOnlyOurHosts(t *testing.T) {
	for host, status := range map[string]int{
		"localhost": 200, "localhost:8080": 200, "127.0.0.1:8080": 200, "[::1]:8080": 200, "[::1]": 200,
		"LARDER.local": 200, "192.0.2.7:99": 200, "evil.example": 403, "larder.local.evil.example": 403, "": 403,
	} {
		r := request(http.MethodGet, "/api/glance", "")
		r.Host = host
		if w := ask(t, New((&house{}).deps()), r); w.Code != status {
			t.Errorf("host %q: %d, want %d", host, w.Code, status)
		}
	}
}

func TestOtherSitesCannotCommand(t *testing.T) {
	for _, c := range []struct {
		header, value string
		status        int
	}{
		{"Sec-Fetch-Site", "cross-site", 403},
		{"Origin", "http://evil.example", 403},
		{"Origin", "null", 403},
		{"Sec-Fetch-Site", "same-origin", 200},
		{"Origin", "http://localhost:8080", 200},
		{"X-None", "", 200}, // not a browser
	} {
		h := &house{}
		r := request(http.MethodPost, "/api/commands", `{"kind":"turned","batch":"x","by":"TV"}`)
		r.Header.Set(c.header, c.value)
		w := ask(t, New(h.deps()), r)
		if w.Code != c.status || (len(h.said) == 1) != (c.status == 200) {
			t.Errorf("%s: %s: %d and %d commands, want %d", c.header, c.value, w.Code, len(h.said), c.status)
		}
	}
}

func TestHeaders(t *testing.T) {
	h := New((&house{}).deps())
	page := ask(t, h, request(http.MethodGet, "/", "")).Header()
	csp := page.Get("Content-Security-Policy")
	if !strings.HasPrefix(csp, "default-src 'self'") || strings.Contains(csp, "unsafe") || page.Get("Referrer-Policy") != "same-origin" {
		t.Errorf("page headers %v", page)
	}
	paper := ask(t, h, request(http.MethodGet, "/batches/OL-31-09/record.csv", "")).Header()
	if paper.Get("Content-Disposition") != "attachment; filename=OL-31-09-record.csv" || paper.Get("Content-Type") != "text/csv; charset=utf-8" {
		t.Errorf("paper headers %v", paper)
	}
	if csp := ask(t, h, request(http.MethodGet, "/batches/OL-31-09/record.html", "")).Header().Get("Content-Security-Policy"); !strings.HasPrefix(csp, "default-src 'none'") || strings.Contains(csp, "script") {
		t.Errorf("record policy %q", csp)
	}
}

func TestChartAsksForItsWindow(t *testing.T) {
	h := &house{}
	ask(t, New(h.deps()), request(http.MethodGet, "/batches/OL-31-09/chart.svg?hours=24", ""))
	ask(t, New(h.deps()), request(http.MethodGet, "/batches/OL-31-09/chart.svg?from=2026-11-17T00:00:00Z&to=2026-11-17T06:00:00Z", ""))
	six := time.Date(2026, 11, 17, 0, 0, 0, 0, time.UTC)
	want := []chart.View{{From: night.Add(-24 * time.Hour)}, {From: six, To: six.Add(6 * time.Hour)}}
	for i, w := range want {
		if h.asked[i] != w {
			t.Errorf("request %d asked for %v, want %v", i, h.asked[i], w)
		}
	}
}

// A record that fails half way must not look whole.
func TestTornPaperIsCutOff(t *testing.T) {
	server := httptest.NewServer(New((&house{torn: errDisk}).deps()))
	defer server.Close()
	answer, err := server.Client().Get(server.URL + "/batches/OL-31-09/record.csv")
	if err != nil {
		return // cut before the headers: seen as well
	}
	defer answer.Body.Close()
	buffer := make([]byte, 1<<20)
	for {
		if _, err = answer.Body.Read(buffer); err != nil {
			break
		}
	}
	if err.Error() == "EOF" {
		t.Error("the answer ended as if it were whole")
	}
	// The drawing places are free again.
	for range maxDrawings + 1 {
		server.Client().Get(server.URL + "/batches/OL-31-09/record.csv")
	}
}

func TestPaperThatFailsAtOnceIsToldInWords(t *testing.T) {
	w := ask(t, New((&house{torn: errDisk}).deps()), request(http.MethodGet, "/batches/OL-31-09/record.html", ""))
	if w.Code != 500 || !strings.Contains(w.Body.String(), `"error"`) {
		t.Errorf("%d %s, want 500 in words", w.Code, w.Body)
	}
}

// Who takes the duty or shelves an alarm reads the time that they typed, with its zone.
func TestTimesToComeAreAnsweredInLocalTime(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	for body, want := range map[string]string{
		`{"kind":"duty","by":"TV","until":"2026-11-18T06:00:00Z"}`:                               "TV has the duty until Wed 18 Nov 07:00 CET",
		`{"kind":"shelve","by":"TV","alarm":17,"text":"loading","until":"2026-11-18T02:40:00Z"}`: "alarm 17: hidden until Wed 18 Nov 03:40 CET by TV",
	} {
		deps := (&house{}).deps()
		deps.Zone = zone
		if w := ask(t, New(deps), request(http.MethodPost, "/api/commands", body)); w.Code != 200 || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: %d %s, want %q", body, w.Code, w.Body, want)
		}
	}
}
