package app

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// A mistake is what a thumb does in the cook of the story, and how that ends.
type mistake func(s *shop, m int)

// cookWith plays two hours of a cook in which the stage chill may be entered by mistake.
func cookWith(t *testing.T, wrong mistake) *shop {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	for m := range 120 {
		s.at(time.Duration(m)*minute + 10*time.Second)
		wrong(s, m)
		s.at(time.Duration(m)*minute + 30*time.Second)
		s.read("chamber", 80)
		s.read("core", 10+float64(m)*0.5)
		s.settle()
	}
	s.at(120 * minute)
	return s
}

// killedWith is a daemon that was killed when a command was in its log and not evaluated.
func (s *shop) killedWith(c process.Command) {
	s.t.Helper()
	s.close()
	c.Typed = s.clock.Now()
	if c.At.IsZero() {
		c.At = c.Typed
	}
	s.append(c)
	s.open()
}

// Chill is pressed in the middle of a cook. Taken back after moments, after an hour with a
// reason, by a daemon that was killed in between, or after a restart: the come-up clock and
// all others are as if it had never been pressed.
func TestStoryTheWrongStage(t *testing.T) {
	t.Parallel()
	press := func(s *shop) {
		s.must(process.Command{ID: "wrong", Kind: process.CommandStage, Stage: process.StageChill})
	}
	back := process.Command{ID: "back", Batch: "PS-02", Kind: process.CommandStruck, Strikes: "wrong", By: "M.O."}
	why := back
	why.Why = "thumb on the wrong button"
	stories := map[string]mistake{
		"never": func(*shop, int) {},
		"at once": func(s *shop, m int) {
			if m == 30 {
				press(s)
				s.must(back)
			}
		},
		"after an hour": func(s *shop, m int) {
			switch m {
			case 30:
				press(s)
			case 90:
				if err := s.try(back); err == nil || !strings.Contains(err.Error(), "more than a minute ago") {
					t.Errorf("without a reason: %v", err)
				}
				s.must(why)
				if stage := s.batch().Stage().Name; stage != process.StageCook {
					t.Errorf("in stage %s when the answer has gone out", stage)
				}
			}
		},
		"killed in between": func(s *shop, m int) {
			switch m {
			case 30:
				press(s)
			case 90:
				s.killedWith(why)
			}
		},
		"stopped after it": func(s *shop, m int) {
			switch m {
			case 30:
				press(s)
			case 60:
				s.must(why)
				s.close()
				s.open()
			}
		},
		"corrected to its time": func(s *shop, m int) {
			switch m {
			case 30:
				press(s)
			case 40:
				s.must(process.Command{ID: "right", Kind: process.CommandStage, Stage: process.StageChill, Strikes: "wrong", Why: "typed too early", At: s.clock.Now().Add(-2 * minute)})
			case 50:
				s.must(process.Command{ID: "back", Kind: process.CommandStruck, Strikes: "right", Why: "it was not chilled at all"}) // chill of 30 counts again
				s.must(process.Command{ID: "back2", Kind: process.CommandStruck, Strikes: "wrong", Why: "nor then"})
			}
		},
	}
	want := ""
	for _, name := range append([]string{"never"}, slices.Sorted(mapsKeys(stories))...) {
		s := cookWith(t, stories[name])
		clocks, err := json.Marshal([]any{s.batch().Clocks(s.clock.Now()), s.batch().Estimates()})
		if err != nil {
			t.Fatal(err)
		}
		if want == "" {
			want = string(clocks)
			if c := s.clockOf(process.ClockComeUp); c.Sum < 0.5 {
				t.Fatalf("the come-up clock says %+v: the test tests nothing", c)
			}
		}
		if string(clocks) != want {
			t.Errorf("%s:\n%s\nnever pressed:\n%s", name, clocks, want)
		}
		if name == "after an hour" || name == "killed in between" {
			s.tracesOfTheWrongStage()
		}
		if err := s.app.db.VerifyJournal(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		s.close()
	}
}

func mapsKeys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// tracesOfTheWrongStage are in the journal, in the record and in the list of entries.
func (s *shop) tracesOfTheWrongStage() {
	s.t.Helper()
	lines := s.journal("struck")
	if len(lines) != 1 || !strings.Contains(lines[0], "struck out: stage chill entered (by T.V., typed 2031-05-05T06:30:10Z): thumb on the wrong button") {
		s.t.Errorf("the journal says %q", lines)
	}
	var html strings.Builder
	if err := s.record().HTML(&html); err != nil {
		s.t.Fatal(err)
	}
	if !strings.Contains(html.String(), "struck out by M.O., Mon 5 May 2031 07:30 UTC: thumb on the wrong button") {
		s.t.Error("the record does not show what was struck out")
	}
	for _, e := range entries(s.batch()) {
		if e.ID == "wrong" && (e.Struck == nil || e.Struck.By != "M.O." || e.Struck.ID != "back") {
			s.t.Errorf("entry %+v", e)
		}
	}
	err := s.try(process.Command{Kind: process.CommandStruck, Strikes: "wrong", Why: "again", By: "T.V."})
	var no *process.Refusal
	if !errors.As(err, &no) || no.Already == nil || no.Already.By != "M.O." {
		s.t.Errorf("struck out twice: %v", err)
	}
}

// The mistaken stage wants probes that are not in: what rings for that ends when the stage
// is taken back, and rings no more.
func TestAnAlarmOfTheWrongStageEnds(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.must(process.Command{ID: "rinse", Kind: process.CommandStage, Stage: process.StageRinse})
	s.must(process.Command{ID: "dry", Kind: process.CommandStage, Stage: process.StageDry})
	s.must(process.Command{ID: "smoke", Kind: process.CommandStage, Stage: process.StageSmoke})
	fridge := func(time.Duration) {
		s.read("slow", 3)
		s.say("shop/spare", "3.1")
	}
	s.every(minute, 0, 10*minute, func(after time.Duration) {
		fridge(after)
		s.read("chamber", 80)
	})
	s.every(minute, 11*minute, 90*minute, fridge)
	heard := s.phone.heard()
	if len(heard) == 0 || !strings.Contains(heard[0], "raised") {
		t.Fatalf("the silent smoker rang nothing: %q", heard)
	}
	for _, id := range []string{"smoke", "dry", "rinse"} {
		s.must(process.Command{Kind: process.CommandStruck, Strikes: id, Why: "it was another batch"})
	}
	s.every(minute, 91*minute, 93*minute, fridge)
	for _, entry := range []string{"B1", "H3", "H5"} {
		if n, standing, err := s.app.Alarm(entry); err != nil || standing {
			t.Errorf("%s %d still stands: %v", entry, n, err)
		}
	}
	s.phone.heard()
	s.every(minute, 94*minute, 150*minute, fridge)
	s.wantHeard()
}

// postForm presses a button of the page, without following.
func (s *shop) postForm(path string, form url.Values) (status int, to string) {
	s.t.Helper()
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := client.PostForm(s.app.Address()+path, form)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	if to = answer.Header.Get("Location"); to == "" {
		to = string(text)
	}
	return answer.StatusCode, to
}

// Two phones press "turned" and "I am on it" within moments: one event each, and the
// second phone is told who was first.
func TestTwoPhonesOneEvent(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	_, first := s.postForm("/turned", url.Values{"id": {"phone1"}, "batch": {"PS-02"}, "by": {"T.V."}})
	s.at(20 * time.Second)
	_, second := s.postForm("/turned", url.Values{"id": {"phone2"}, "batch": {"PS-02"}, "by": {"M.O."}})
	if first != "/batches/PS-02?done=phone1-turned" || second != first+"&already" || len(s.batch().Turns) != 1 {
		t.Errorf("first to %s, second to %s, %d turns", first, second, len(s.batch().Turns))
	}
	if text := s.get(second); !strings.Contains(text, "T.V. entered that at 06:00 UTC.") {
		t.Errorf("the second phone is told:\n%s", text)
	}
	if text := s.get(first); !strings.Contains(text, "Take it back") {
		t.Error("the first phone may not take it back")
	}
	if _, to := s.postForm("/strike", url.Values{"id": {"phone1"}, "batch": {"PS-02"}, "by": {"T.V."}, "strikes": {"phone1-turned"}}); to != first || len(s.batch().Turns) != 0 {
		t.Errorf("taken back: to %s, %d turns", to, len(s.batch().Turns))
	}
	s.at(5 * minute)
	s.postForm("/turned", url.Values{"id": {"phone3"}, "batch": {"PS-02"}, "by": {"T.V."}})
	s.at(15 * minute)
	s.send("/api/commands", map[string]any{"kind": "turned", "pieces": []string{"A"}, "batch": "PS-02", "strikes": "phone3-turned", "why": "only A", "by": "M.O."})
	if turns := s.batch().Turns; len(turns) != 1 || len(turns[0].Pieces) != 1 || !turns[0].At.Equal(dawn.Add(5*minute)) {
		t.Errorf("a correction without a time keeps it: %+v", turns)
	}
	status, text := s.send("/api/commands", map[string]any{"kind": "struck", "batch": "PS-02", "strikes": "phone1-turned", "by": "M.O."})
	if status != http.StatusOK || !strings.Contains(text, `"already":true`) || !strings.Contains(text, "T.V. took that back at") {
		t.Errorf("struck out twice: %d %s", status, text)
	}
	if text := s.get("/api/batches/PS-02"); !strings.Contains(text, `"id":"phone1-turned","struck":{"id":"phone1-struck","at":"2031-05-05T06:00:20Z","by":"T.V."}`) {
		t.Errorf("the entries of the batch: %s", text)
	}
}

// "I am on it" is taken back: the lamp and the page say that nobody is, and the phone rings
// again as if nobody had answered.
func TestStoryNobodyIsOnIt(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	burn := func(c float64) func(time.Duration) {
		return func(after time.Duration) {
			s.read("chamber", c)
			s.read("core", 20+0.1*after.Minutes())
		}
	}
	s.every(minute, 0, 20*minute, burn(80))
	s.every(minute, 21*minute, 60*minute, burn(30))
	number, standing, err := s.app.Alarm("H3")
	if err != nil || !standing {
		t.Fatalf("no H3: %v", err)
	}
	s.phone.heard()
	s.must(process.Command{ID: "on", Kind: process.CommandAcknowledge, Alarm: number, By: "M.O."})
	var no *process.Refusal
	if err := s.try(process.Command{Kind: process.CommandAcknowledge, Alarm: number}); !errors.As(err, &no) || no.Already == nil || no.Already.By != "M.O." {
		t.Errorf("two on it: %v", err)
	}
	s.every(minute, 61*minute, 80*minute, burn(30))
	s.wantHeard()
	if err := s.try(process.Command{Kind: process.CommandStruck, Strikes: "on"}); err == nil || !strings.Contains(err.Error(), "--why") {
		t.Errorf("without a reason: %v", err)
	}
	s.must(process.Command{ID: "off", Kind: process.CommandStruck, Strikes: "on", Why: "cannot leave", By: "M.O."})
	if a := s.alarm("H3"); !a.AcknowledgedAt.IsZero() || a.Answers[0].Withdrawn == nil || a.Answers[0].Withdrawn.Why != "cannot leave" {
		t.Errorf("alarm %+v", a)
	}
	s.every(minute, 81*minute, 83*minute, burn(30))
	s.wantHeard("H3 repeated ring")
	s.close()
	s.open()
	if err := s.try(process.Command{Kind: process.CommandStruck, Strikes: "on", Why: "again"}); !errors.As(err, &no) || no.Already == nil {
		t.Errorf("taken back twice: %v", err)
	}
	if lines := s.journal("alarm unacknowledged"); len(lines) != 1 || !strings.Contains(lines[0], "M.O. is not on it: cannot leave") {
		t.Errorf("journal %q", lines)
	}
}
