package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/decode"
	"flitch/process"
	"flitch/process/record"
)

func heardHouse() *house {
	return &house{heard: Heard{Places: []PlaceName{{"old-kettle", "Old Kettle", "smoker"}}, Topics: []HeardTopic{
		{Topic: "shed/<box>", Messages: 12, Last: night, EveryS: 14.7, Values: []HeardValue{
			{Found: decode.Found{Pointer: "/at", Text: "1795767511", Kind: decode.FoundTime, Format: decode.Unix}},
			{Found: decode.Found{Pointer: "/dead", Text: "null", Kind: decode.FoundNothing}},
			{Found: decode.Found{Pointer: "/t1", Text: "61.5", Number: 61.5, Kind: decode.FoundNumber}, Probe: "core-1"},
			{Found: decode.Found{Pointer: "/t2", Text: "38.3", Number: 38.3, Kind: decode.FoundNumber}},
		}},
		{Topic: "shed/noise", Retained: true, Problem: `payload is "unavailable", not a number`},
	}}}
}

func TestThePageOfWhatArrives(t *testing.T) {
	p := heardHouse().page(t, record.Site{})
	body := get(t, p, "/heard").Body.String()
	has(t, body, "shed/&lt;box&gt;", "61.5", "probe core-1", "38.3 °F is 3.5 °C", "Old Kettle", `value="15s"`, "unavailable", "of unknown age", "/at 1795767511")
	if got := strings.Count(body, `action="/heard"`); got != 2 {
		t.Errorf("%d forms, want one for each number that no probe reads", got)
	}
	labelled(t, body, "/heard")
	has(t, get(t, (&house{}).page(t, record.Site{}), "/heard").Body.String(), "Nothing has arrived")
	has(t, get(t, p, "/batches").Body.String(), `href="/heard"`)
}

// What a person says of a number goes on as the keys of the configuration; what is
// refused stays in the form.
func TestANumberBecomesAProbe(t *testing.T) {
	var got config.NewProbe
	var by string
	refuse := false
	page := New(Deps{Site: record.Site{Zone: time.UTC}, Reader: heardHouse(), Clock: heardHouse(), NewID: func() string { return "id" },
		AddProbe: func(_ context.Context, p config.NewProbe, who string) error {
			got, by = p, who
			if refuse {
				return &process.Refusal{What: "probe.name: taken", Hint: `name = "core-3"`}
			}
			return nil
		}})
	post := func() *httptest.ResponseRecorder {
		form := url.Values{"topic": {"shed/<box>"}, "value": {"/t2"}, "name": {" core-2 "}, "measures": {"core"}, "place": {"old-kettle"},
			"unit": {"F"}, "time": {"unix /at"}, "interval": {"15s"}, "by": {"T.V."}}
		r := httptest.NewRequest(http.MethodPost, "/heard", strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		page.ServeHTTP(w, r)
		return w
	}
	w := post()
	want := config.NewProbe{Name: "core-2", Place: "old-kettle", Measures: "core", Topic: "shed/<box>", Value: "/t2", Time: "/at", TimeFormat: "unix", Unit: "F", Interval: "15s"}
	if got != want || by != "T.V." || w.Code != http.StatusOK || w.Header().Get("Refresh") == "" {
		t.Errorf("%d: got %+v by %q", w.Code, got, by)
	}
	refuse = true
	w = post()
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("status %d", w.Code)
	}
	body := w.Body.String()
	has(t, body, "probe.name: taken", "core-3", "<details open>", `value="core-2"`, `<option value="core" selected>`, `<option value="F" selected>`, `<option value="old-kettle" selected>`, `value="T.V."`)
	if n := len(regexp.MustCompile(`<details open>`).FindAllString(body, -1)); n != 1 {
		t.Errorf("%d forms stand open", n)
	}
}

func TestTheIntervalThatIsSuggested(t *testing.T) {
	for every, want := range map[float64]string{0: "1m0s", 0.4: "1s", 1.05: "1s", 4.9: "5s", 14.7: "15s", 31: "30s", 59: "1m0s", 61: "1m0s", 100: "2m0s", 300: "5m0s", 3600: "1h0m0s", 7300: "2h0m0s"} {
		if got := (HeardTopic{EveryS: every}).Interval(); got != want {
			t.Errorf("%g s: %s, want %s", every, got, want)
		}
	}
}

// A unit behind the number and a decimal comma are declared without a question.
func TestAUnitBehindTheNumberIsDeclared(t *testing.T) {
	h := heardHouse()
	h.heard.Topics = []HeardTopic{{Topic: "shed/text", Last: time.Unix(1795767511, 0), Messages: 2, Values: []HeardValue{
		{Found: decode.Found{Text: "38,9 F", Number: 38.9, Kind: decode.FoundNumber, UnitAt: "behind", Decimal: ","}}}}}
	body := get(t, h.page(t, record.Site{}), "/heard").Body.String()
	has(t, body, `<input type="hidden" name="unit_at" value="behind">`, `<input type="hidden" name="decimal" value=",">`)
	if strings.Contains(body, `name="unit"`) {
		t.Error("the unit is asked for")
	}
	labelled(t, body, "/heard")
}

// What the form sends leads to the same keys that listen prints: list, unit in the
// message, protocol.
func TestTheFormKnowsListsUnitsAndProtocols(t *testing.T) {
	h := heardHouse()
	h.heard.Topics = []HeardTopic{
		{Topic: "shed/stored", Values: []HeardValue{
			{Found: decode.Found{Pointer: "/r/0/ts", Text: "1796000000", Kind: decode.FoundTime, Format: decode.Unix, Each: "/r"}},
			{Found: decode.Found{Pointer: "/r/0/v", Text: "3.1", Number: 3.1, Kind: decode.FoundNumber, Each: "/r"}}}},
		{Topic: "shed/said", Values: []HeardValue{{Found: decode.Found{Pointer: "/t", Text: "39", Number: 39, Kind: decode.FoundNumber, UnitBeside: "/TempUnit"}}}},
		{Topic: "spBv1.0/shop/NBIRTH/kettle", Values: []HeardValue{{Found: decode.Found{Pointer: "room", Text: "18.5", Number: 18.5, Kind: decode.FoundNumber}, Protocol: config.Sparkplug, Address: "shop/kettle"}}},
	}
	body := get(t, h.page(t, record.Site{}), "/heard").Body.String()
	has(t, body, `name="each" value="/r"`, `name="value" value="/v"`, `<option value="unix /ts"`, `<option value="/TempUnit"`,
		`name="protocol" value="sparkplug"`, `name="topic" value="shop/kettle"`, `name="metric" value="room"`, "as the device says")
	labelled(t, body, "/heard")
	var got config.NewProbe
	page := New(Deps{Site: record.Site{Zone: time.UTC}, Reader: h, Clock: h, NewID: func() string { return "id" },
		AddProbe: func(_ context.Context, p config.NewProbe, _ string) error { got = p; return nil }})
	for _, c := range []struct {
		form url.Values
		want config.NewProbe
	}{
		{url.Values{"topic": {"shed/stored"}, "each": {"/r"}, "value": {"/v"}, "time": {"unix /ts"}, "unit": {"C"}},
			config.NewProbe{Topic: "shed/stored", Each: "/r", Value: "/v", Time: "/ts", TimeFormat: "unix", Unit: "C"}},
		{url.Values{"topic": {"shed/said"}, "value": {"/t"}, "unit": {"/TempUnit"}}, config.NewProbe{Topic: "shed/said", Value: "/t", UnitAt: "/TempUnit"}},
		{url.Values{"topic": {"shop/kettle"}, "protocol": {"sparkplug"}, "metric": {"room"}}, config.NewProbe{Topic: "shop/kettle", Protocol: "sparkplug", Metric: "room"}},
	} {
		r := httptest.NewRequest(http.MethodPost, "/heard", strings.NewReader(c.form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		page.ServeHTTP(httptest.NewRecorder(), r)
		if got != c.want {
			t.Errorf("%v: %+v, want %+v", c.form, got, c.want)
		}
	}
}
