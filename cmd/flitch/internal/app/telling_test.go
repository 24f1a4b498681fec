package app

import (
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// twoPhones is a shop of two persons with a phone each; M.O. is called first.
func twoPhones(t *testing.T) (s *shop, second *testPhone) {
	t.Helper()
	s, second = newShop(t), newTestPhone()
	t.Cleanup(second.server.Close)
	s.cfg.Channels = append(s.cfg.Channels, config.Channel{Name: "tv", Kind: "http", Level: "tell", Deadline: 5 * time.Second,
		Text: map[string]string{"url": second.server.URL}, Secrets: map[string]config.Secret{}})
	s.cfg.Persons = []config.Person{{Name: "M. Oldroyd", Initials: "M.O.", Channels: []string{"phone"}}, {Name: "T. Vale", Initials: "T.V.", Channels: []string{"tv"}}}
	s.open()
	return s, second
}

// alarm returns the newest alarm of the entry as lists show it.
func (s *shop) alarm(entry string) web.Alarm {
	s.t.Helper()
	all, err := (&reader{app: s.app}).Alarms(s.patience())
	if err != nil {
		s.t.Fatal(err)
	}
	for _, a := range all {
		if a.Entry == entry {
			return a
		}
	}
	s.t.Fatalf("no alarm %s", entry)
	return web.Alarm{}
}

func onWatch(at time.Time) string { return at.Format("15:04") }

// get returns a page under test as text.
func (s *shop) get(path string) string {
	s.t.Helper()
	resp, err := http.Get(s.app.Address() + path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return string(body)
}

// Nobody is told before their phone has taken it: lists, page, interface and the next
// message say who was not reached, and why, until it comes through.
func TestToldIsSaidAfterDeliveryOnly(t *testing.T) {
	s, second := twoPhones(t)
	s.phone.answer(http.StatusServiceUnavailable)
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	says := func(want string) {
		t.Helper()
		if got := s.alarm("C2").ToldWords(onWatch); !strings.HasPrefix(got, want) {
			t.Errorf("the list says %q, want %q", got, want)
		}
	}
	says("M.O. being sent: answered 503")
	for _, path := range []string{"/api/alarms", "/alarms", "/alarms/1"} {
		if body := s.get(path); !strings.Contains(body, "being sent") || strings.Contains(body, "M.O. told at") {
			t.Errorf("%s says\n%s", path, body)
		}
	}
	s.phone.answer(http.StatusBadRequest) // for good
	s.fridgeWarm(22*minute, 40*minute)
	second.mu.Lock()
	var texts []string
	for _, m := range second.got {
		if m.Kind == string(alerts.Escalated) {
			texts = append(texts, m.Text)
		}
	}
	second.mu.Unlock()
	if len(texts) == 0 || !strings.Contains(texts[0], "M.O. called at 06:20 UTC, no answer for 10 min.") || !strings.Contains(texts[0], "M.O. not reached: answered 400") ||
		strings.Contains(texts[0], "M.O. told") || strings.Contains(texts[0], "T.V. being sent") {
		t.Errorf("the call to the second says %q", texts)
	}
	if got := s.alarm("C2").ToldWords(onWatch); !strings.Contains(got, "M.O. not reached: answered 400") || !strings.Contains(got, "T.V. told at 06:") {
		t.Errorf("the list says %q", got)
	}
	if lines := strings.Join(s.journal("alarm raised"), "\n"); strings.Contains(lines, "told M.O.") {
		t.Errorf("the journal says before any delivery\n%s", lines)
	}
	s.phone.answer(0)
	s.fridgeWarm(41*minute, 100*minute)
	if got := s.alarm("C2").ToldWords(onWatch); !strings.Contains(got, "M.O. told at 0") {
		t.Errorf("once it came through the list says %q", got)
	}
}

// A shelf is seen wherever the alarm is: in lists, on the page and by MQTT, where a
// lamp takes it for quiet until the shelf ends.
func TestAShelfIsSeenEverywhere(t *testing.T) {
	s := newShop(t)
	s.cfg.Announce.Topic = "flitch"
	s.open()
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	lamp := watchLamps(t, "tcp://"+s.app.BrokerAddress(), "lamp")
	standing := s.get("/api/alarms")
	if !s.until(func() bool { return lamp.shows("flitch/unanswered") == "ring" }) || strings.Contains(standing, `"shelf"`) {
		t.Fatalf("the lamp shows %v; alarms %s", lamp.last, standing)
	}
	until := dawn.Add(90 * minute)
	for _, a := range []string{"C2", "C1"} {
		if all := s.get("/api/alarms"); a == "C2" || strings.Contains(all, `"entry":"C1"`) {
			s.must(process.Command{Kind: process.CommandShelve, Entry: a, Of: "alder", Text: "loading", Until: until})
		}
	}
	if got := s.alarm("C2"); got.Shelf == nil || got.Shelf.Words(onWatch) != "shelved until 07:30 by T.V.: loading" {
		t.Errorf("shelf %+v", got.Shelf)
	}
	for _, path := range []string{"/alarms", "/alarms/1", "/batches/PS-02"} {
		if body := s.get(path); !strings.Contains(body, "Hidden from phones: shelved until 07:30 UTC by T.V.: loading.") {
			t.Errorf("%s does not show the shelf", path)
		}
	}
	if body := s.get("/batches/PS-02"); !strings.Contains(body, `class="state look"`) {
		t.Error("the one word for a shelved ring is not look")
	}
	if !s.until(func() bool { return lamp.shows("flitch/alarm") != "ring" && lamp.shows("flitch/unanswered") != "ring" }) {
		t.Errorf("the lamp shows %v", lamp.last)
	}
	if got := lamp.shows(warmTopic); !strings.Contains(got, `"state":"shelved"`) || !strings.Contains(got, `"shelf":{"by":"T.V.","reason":"loading","until":"2031-05-05T07:30:00Z"}`) {
		t.Errorf("%s: %s", warmTopic, got)
	}
	s.fridgeWarm(22*minute, 92*minute)
	if !s.until(func() bool {
		return lamp.shows("flitch/alarm") == "ring" && lamp.shows("flitch/unanswered") == "ring" && !strings.Contains(lamp.shows(warmTopic), "shelf")
	}) {
		t.Errorf("after the shelf the lamp shows %v", lamp.last)
	}
	if got := s.alarm("C2"); got.Shelf != nil {
		t.Errorf("after its end the shelf is %+v", got.Shelf)
	}
}
