package api

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// A bell is a house with one alarm that can be answered, as the engine does it.
type bell struct {
	*house
	mu    sync.Mutex
	alarm alerts.Occurrence
	now   time.Time
}

func newBell() *bell {
	return &bell{house: &house{}, now: night.Add(time.Minute), alarm: alerts.Occurrence{
		Number: 17, Entry: "H3", Title: "Fire going out", Subject: "old-kettle", Level: alerts.Ring,
		Since: night.Add(-time.Hour), RaisedAt: night, Active: true}}
}

func (b *bell) Now() time.Time { return b.now }

func (b *bell) Alarms(context.Context) ([]web.Alarm, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return []web.Alarm{{Occurrence: b.alarm, LevelName: "ring", Action: "Relight."}}, b.fault
}

func (b *bell) Do(ctx context.Context, c process.Command) error {
	if err := b.house.Do(ctx, c); err != nil {
		return err
	}
	if c.Kind != process.CommandAcknowledge {
		return nil
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.alarm.AcknowledgedAt, b.alarm.AcknowledgedBy = c.At, c.By
	b.alarm.Answers = append(b.alarm.Answers, alerts.Answer{ID: c.ID, At: c.At, By: c.By})
	return nil
}

func (b *bell) links() *Links {
	return &Links{Key: []byte("0123456789abcdef0123456789abcdef"), Base: "http://localhost:8080",
		Who: func(channel string) string { return map[string]string{"tv-phone": "TV"}[channel] }}
}

func (b *bell) door() http.Handler {
	deps := b.deps()
	deps.Reader, deps.Commander, deps.Clock, deps.Links = b, b, b, b.links()
	return New(deps)
}

func (b *bell) message() alerts.Message {
	return alerts.Message{ID: 3, Alarm: 17, Kind: alerts.Raised, Level: alerts.Ring, Channel: "tv-phone", Due: night}
}

// path is the address of the link in the message, without the host.
func (b *bell) path() string {
	return strings.TrimPrefix(b.links().Link(b.message()), "http://localhost:8080")
}

// visit asks and wants a status, words and how many commands were given so far.
func (b *bell) visit(t *testing.T, method, path string, status, commands int, words string) {
	t.Helper()
	w := ask(t, b.door(), request(method, path, ""))
	if w.Code != status || !strings.Contains(w.Body.String(), words) {
		t.Errorf("%s: %d, want %d with %q; %s", method, w.Code, status, words, w.Body)
	}
	if len(b.said) != commands {
		t.Errorf("%s: %d commands were given, want %d", method, len(b.said), commands)
	}
	if h := w.Header(); h.Get("Cache-Control") != "no-store" || h.Get("Set-Cookie") != "" {
		t.Errorf("headers %v", h)
	}
}

func TestLookingAtALinkAnswersNothing(t *testing.T) {
	b := newBell()
	for range 3 {
		b.visit(t, http.MethodGet, b.path(), 200, 0, "<button>I am on it</button>")
		b.visit(t, http.MethodHead, b.path(), 200, 0, "")
	}
}

func TestALinkAnswersOnce(t *testing.T) {
	b := newBell()
	b.visit(t, http.MethodPost, b.path(), 200, 1, "Alarm 17: TV is on it.")
	c := b.said[0]
	if c.Kind != process.CommandAcknowledge || c.Alarm != 17 || c.By != "TV" || !c.At.Equal(b.now) || !strings.HasPrefix(c.ID, "link-") {
		t.Errorf("command %+v", c)
	}
	b.now = b.now.Add(5 * time.Minute)
	for _, method := range []string{http.MethodPost, http.MethodGet, http.MethodPost} {
		b.visit(t, method, b.path(), 409, 1, "already answered by TV at Wed 18 Nov 02:32 UTC. Nothing was changed.")
	}
}

// Who answers while the disk takes nothing is told that it was not entered, and why.
func TestALinkSaysThatTheDiskIsFull(t *testing.T) {
	b := newBell()
	b.answer = &process.Refusal{What: "the disk is full: this was not entered", Hint: "free some space on the disk of flitch", NotNow: true}
	b.visit(t, http.MethodPost, b.path(), 503, 1, "The disk is full: this was not entered.")
	b.visit(t, http.MethodPost, b.path(), 503, 2, "The alarm still stands. Free some space on the disk of flitch.")
	b.answer = nil
	b.visit(t, http.MethodPost, b.path(), 200, 3, "TV is on it")
}

func TestALinkThatWasUsedDoesNotAnswerTheNextRing(t *testing.T) {
	b := newBell()
	b.visit(t, http.MethodPost, b.path(), 200, 1, "is on it")
	old := b.path()
	b.alarm.AcknowledgedAt, b.alarm.AcknowledgedBy = time.Time{}, "" // it asks again
	b.visit(t, http.MethodPost, old, 409, 1, "already answered")
	again := b.message()
	again.ID, again.Kind, again.Due, again.Channel = 4, alerts.ReAlarmed, night.Add(2*time.Hour), "shop"
	b.now = night.Add(2*time.Hour + time.Minute)
	b.visit(t, http.MethodPost, strings.TrimPrefix(b.links().Link(again), b.links().Base), 200, 2, "link of shop is on it")
}

// An answer that was taken back leaves the links of the others in use: the alarm asks as if
// nobody had answered. Its own is used up: flitch knows that command.
func TestALinkAfterAnAnswerThatWasTakenBack(t *testing.T) {
	b := newBell()
	b.visit(t, http.MethodPost, b.path(), 200, 1, "TV is on it")
	own := b.path()
	b.alarm.AcknowledgedAt, b.alarm.AcknowledgedBy = time.Time{}, ""
	b.alarm.Answers[0].Withdrawn = &alerts.Withdrawal{By: "TV", At: b.now}
	b.visit(t, http.MethodPost, own, 409, 1, "already answered")
	other := b.message()
	other.Channel = "shop"
	b.visit(t, http.MethodPost, strings.TrimPrefix(b.links().Link(other), b.links().Base), 200, 2, "link of shop is on it")
}

// say presses one of the buttons about the worth of a ring.
func (b *bell) say(t *testing.T, word string) (int, string) {
	t.Helper()
	r := request(http.MethodPost, b.path(), "worth="+word)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := ask(t, b.door(), r)
	return w.Code, w.Body.String()
}

func TestTheLinkSaysWhatTheRingWasWorth(t *testing.T) {
	const buttons = `<button name="worth" value="false">`
	b := newBell()
	b.alarm.Active, b.alarm.ClearedAt = false, night.Add(30*time.Second)
	b.visit(t, http.MethodGet, b.path(), 410, 0, buttons) // it came and went by itself
	b = newBell()
	if w := ask(t, b.door(), request(http.MethodGet, b.path(), "")); strings.Contains(w.Body.String(), buttons) {
		t.Error("asked for its worth before anybody is on it")
	}
	if code, _ := b.say(t, "false"); code != 200 || len(b.said) != 0 {
		t.Errorf("%d, %d commands before an answer", code, len(b.said))
	}
	b.visit(t, http.MethodPost, b.path(), 200, 1, buttons)
	code, text := b.say(t, "false")
	if code != 200 || !strings.Contains(text, "Alarm 17: the ring was false, said TV.") || strings.Contains(text, buttons) || len(b.said) != 2 {
		t.Fatalf("%d, %d commands: %s", code, len(b.said), text)
	}
	if c := b.said[1]; c.Kind != process.CommandJudge || c.Alarm != 17 || c.By != "TV" || c.Text != "false" || !strings.HasPrefix(c.ID, "worth-") {
		t.Errorf("command %+v", c)
	}
	b.answer = &process.Refusal{What: "alarm 17: it did not ring, or was judged before"}
	if code, text := b.say(t, "useful"); code != 409 || !strings.Contains(text, "judged before. Nothing was changed.") {
		t.Errorf("judged twice: %d %s", code, text)
	}
	b.now = night.Add(25 * time.Hour)
	if code, text := b.say(t, "late"); code != 409 || strings.Contains(text, buttons) || len(b.said) != 3 {
		t.Errorf("an old link: %d, %d commands, %s", code, len(b.said), text)
	}
	b.alarm.Level, b.now = alerts.Tell, night.Add(time.Hour)
	b.visit(t, http.MethodGet, b.path(), 409, 3, `already answered`)
	if code, text := b.say(t, "late"); code != 409 || strings.Contains(text, buttons) || len(b.said) != 3 {
		t.Errorf("what only told was judged: %d, %s", code, text)
	}
}

func TestAnAnswerOnThePageUsesTheLinkUp(t *testing.T) {
	b := newBell()
	b.alarm.AcknowledgedAt, b.alarm.AcknowledgedBy = night.Add(30*time.Second), "MO"
	b.visit(t, http.MethodPost, b.path(), 409, 0, "by MO")
}

func TestALinkExpires(t *testing.T) {
	for _, age := range []time.Duration{24*time.Hour + time.Second, 400 * 24 * time.Hour, -25 * time.Hour} {
		b := newBell()
		b.now = night.Add(age)
		b.visit(t, http.MethodGet, b.path(), 410, 0, "too old")
		b.visit(t, http.MethodPost, b.path(), 410, 0, "too old")
	}
	b := newBell()
	b.now = night.Add(24 * time.Hour)
	b.visit(t, http.MethodPost, b.path(), 200, 1, "is on it")
}

func TestALinkOfWhatIsOver(t *testing.T) {
	b := newBell()
	b.alarm.Active, b.alarm.ClearedAt = false, night.Add(30*time.Second)
	b.visit(t, http.MethodPost, b.path(), 410, 0, "is over since Wed 18 Nov 02:31 UTC")
	b.alarm.Number = 18
	b.visit(t, http.MethodPost, b.path(), 410, 0, "Alarm 17 is long over")
}

func TestForgedLinks(t *testing.T) {
	b := newBell()
	good := strings.TrimPrefix(b.path(), "/a/")
	other := b.links()
	other.Key = []byte("another key, of another house...")
	forged := []string{"x", "%00", "17", good[:len(good)-1], good + "A", good + "%0A", strings.Repeat("A", 4000),
		strings.TrimPrefix(other.Link(b.message()), other.Base+"/a/")}
	for i := range good { // one character changed, each in turn
		swap := byte('A')
		if good[i] == 'A' {
			swap = 'B'
		}
		forged = append(forged, good[:i]+string(swap)+good[i+1:])
	}
	for _, token := range forged {
		b.visit(t, http.MethodPost, "/a/"+token, 403, 0, "was not made here")
		b.visit(t, http.MethodGet, "/a/"+token, 403, 0, "Nothing was changed")
	}
	keyless := &Links{Base: "http://localhost:8080"}
	if _, ours := keyless.read(strings.TrimPrefix(keyless.Link(b.message()), keyless.Base+"/a/")); ours {
		t.Error("a house without a key believes anybody")
	}
}

func TestALinkFromAnotherSitesPage(t *testing.T) {
	b := newBell()
	r := request(http.MethodPost, b.path(), "")
	r.Header.Set("Origin", "https://elsewhere.example")
	if w := ask(t, b.door(), r); w.Code != 403 || len(b.said) != 0 {
		t.Errorf("%d, %d commands", w.Code, len(b.said))
	}
}

func TestTheEngineRefusesALink(t *testing.T) {
	b := newBell()
	b.answer = &process.Refusal{What: "alarm 17 was acknowledged by MO"} // a moment ago, on the page
	b.visit(t, http.MethodPost, b.path(), 409, 1, "acknowledged by MO")
	b.answer = errDisk
	b.visit(t, http.MethodPost, b.path(), 500, 2, "Try again")
}

func TestTwoThumbsAtOnce(t *testing.T) {
	b := newBell()
	door := b.door()
	var wait sync.WaitGroup
	var codes [8]int
	for i := range codes {
		wait.Go(func() {
			m := b.message()
			m.Channel = fmt.Sprint("phone-", i%4)
			codes[i] = ask(t, door, request(http.MethodPost, strings.TrimPrefix(b.links().Link(m), b.links().Base), "")).Code
		})
	}
	wait.Wait()
	taken := 0
	for _, code := range codes {
		if code == 200 {
			taken++
		} else if code != 409 {
			t.Errorf("%d", code)
		}
	}
	if taken != 1 || len(b.said) != 1 {
		t.Errorf("%d taken, %d commands, want 1 of each", taken, len(b.said))
	}
}

func TestWhatCarriesALink(t *testing.T) {
	b := newBell()
	for _, c := range []struct {
		name   string
		change func(*alerts.Message)
		want   bool
	}{
		{"a ring", func(*alerts.Message) {}, true},
		{"a tell", func(m *alerts.Message) { m.Level = alerts.Tell }, true},
		{"a note", func(m *alerts.Message) { m.Level = alerts.Note }, false},
		{"the end", func(m *alerts.Message) { m.Kind = alerts.Cleared }, false},
		{"a test ring", func(m *alerts.Message) { m.Alarm, m.Kind = 0, alerts.TestRing }, false},
	} {
		m := b.message()
		c.change(&m)
		if got := b.links().Link(m) != ""; got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	if link := b.links().Link(b.message()); len(link) > 90 || link != b.links().Link(b.message()) {
		t.Errorf("%q: long, or not the same twice", link)
	}
	if nowhere := (&Links{Key: b.links().Key}).Link(b.message()); nowhere != "" {
		t.Errorf("%q without an address of the page", nowhere)
	}
}

func FuzzLink(f *testing.F) {
	b := newBell()
	f.Add(strings.TrimPrefix(b.path(), "/a/"))
	f.Add("")
	f.Add("AQ")
	good := strings.TrimPrefix(b.path(), "/a/")
	f.Fuzz(func(t *testing.T, token string) {
		if _, ours := b.links().read(token); ours && token != good {
			t.Errorf("%q is believed", token)
		}
	})
}
