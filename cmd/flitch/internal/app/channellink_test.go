package app

import (
	"bytes"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/store"
)

// ringOfTheWarmFridge rings once and returns the message as the phone has it.
func ringOfTheWarmFridge(s *shop) ring {
	s.t.Helper()
	s.cfg.Page.Link = "http://localhost:8411"
	s.open()
	s.begin(raw)
	s.every(minute, 0, 21*minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
	s.phone.mu.Lock()
	defer s.phone.mu.Unlock()
	if len(s.phone.got) != 1 || s.phone.got[0].Entry != "C2" {
		s.t.Fatalf("the phone has %+v, want one ring of C2", s.phone.got)
	}
	return s.phone.got[0]
}

// follow opens the link of a message at the page under test.
func (s *shop) follow(method, link string) (int, string) {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.patience(), method, strings.Replace(link, "http://localhost:8411", s.app.Address(), 1), nil)
	if err != nil {
		s.t.Fatal(err)
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	s.settle()
	return resp.StatusCode, string(body)
}

// A ring is answered from the locked phone: the link is the last line, looking at
// it does nothing, the button answers, and then it is used up, also after a
// restart. Nothing rings a second time for it.
func TestStoryAnsweredByTheLinkInTheMessage(t *testing.T) {
	s := newShop(t)
	m := ringOfTheWarmFridge(s)
	lines := strings.Split(m.Text, "\n")
	link, found := strings.CutPrefix(lines[len(lines)-1], "I am on it: ")
	if !found || len(lines) < 3 || strings.Contains(lines[0], "://") {
		t.Fatalf("the message is %q", m.Text)
	}
	want := func(method, link string, status int, words string, answers int) {
		t.Helper()
		if got, body := s.follow(method, link); got != status || !strings.Contains(body, words) {
			t.Errorf("%s: %d %s, want %d with %q", method, got, body, status, words)
		}
		occurrences, err := s.app.db.Occurrences(store.OccurrenceFilter{Limit: 9})
		if err != nil || len(occurrences) != 1 || len(occurrences[0].Answers) != answers {
			t.Errorf("occurrences %+v, %v, want %d answers", occurrences, err, answers)
		}
	}
	want(http.MethodGet, link, 200, "I am on it", 0)
	want(http.MethodPost, link+"A", 403, "not made here", 0)
	want(http.MethodPost, link, 200, "link of phone is on it", 1)
	want(http.MethodPost, link, 409, "already answered", 1)
	s.close()
	s.phone.heard()
	s.open()
	want(http.MethodPost, link, 409, "already answered", 1)
	s.every(minute, 22*minute, 60*minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
	if heard := s.phone.heard(); slices.ContainsFunc(heard, func(h string) bool { return strings.HasPrefix(h, "C2") }) {
		t.Errorf("after the answer the phone heard %q", heard)
	}
	stored, err := s.app.db.MessagesOf(m.Alarm)
	if err != nil || len(stored) == 0 || strings.Contains(stored[0].Body, "/a/") {
		t.Errorf("the database holds %+v, %v: a token in it would be in every copy", stored, err)
	}
}

func TestStoryALinkOfWhatIsOverOrOld(t *testing.T) {
	s := newShop(t)
	m := ringOfTheWarmFridge(s)
	link := m.Text[strings.LastIndex(m.Text, " ")+1:]
	s.every(minute, 22*minute, 60*minute, func(time.Duration) { s.read("slow", 2); s.say("shop/spare", "2") })
	if status, body := s.follow(http.MethodPost, link); status != 410 || !strings.Contains(body, "is over since") {
		t.Errorf("%d %s", status, body)
	}
	s.at(30 * hour)
	if status, _ := s.follow(http.MethodPost, link); status != 410 {
		t.Errorf("%d a day later", status)
	}
	for _, text := range s.phone.got {
		if text.Kind == "cleared" && strings.Contains(text.Text, "/a/") {
			t.Errorf("the end has a link to answer with: %q", text.Text)
		}
	}
}

func TestLinkKey(t *testing.T) {
	database := filepath.Join(t.TempDir(), "flitch.db")
	first, err := linkKey(database)
	if err != nil || len(first) != keyLength || bytes.Equal(first, make([]byte, keyLength)) {
		t.Fatalf("key of %d bytes, %v", len(first), err)
	}
	if err := os.Chmod(database+".key", 0o644); err != nil {
		t.Fatal(err)
	}
	again, err := linkKey(database)
	if err != nil || !bytes.Equal(first, again) {
		t.Errorf("another key at the second run, %v", err)
	}
	info, err := os.Stat(database + ".key")
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if err := os.WriteFile(database+".key", []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := linkKey(database); err == nil || !strings.Contains(err.Error(), "remove it") {
		t.Errorf("half a key: %v", err)
	}
	if left, _ := filepath.Glob(database + ".key.*"); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestAChannelOfOnePersonSigns(t *testing.T) {
	a := &App{cfg: &config.Config{Persons: []config.Person{
		{Name: "Marta Oldroyd", Initials: "M.O.", Channels: []string{"mo-phone", "shop"}},
		{Name: "Tobias Vane", Initials: "T.V.", Channels: []string{"tv-phone", "shop"}}}}}
	for channel, want := range map[string]string{"mo-phone": "M.O.", "tv-phone": "T.V.", "shop": "", "hall": ""} {
		if got := a.owner(channel); got != want {
			t.Errorf("%s: signed by %q, want %q", channel, got, want)
		}
	}
}
