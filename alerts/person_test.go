package alerts

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// household is a house of three, with a siren that belongs to nobody and a neighbour
// for when nobody answers. All sleep from ten to half past six, UTC.
func household() Policy {
	night := Quiet{22 * time.Hour, 6*time.Hour + 30*time.Minute}
	return Policy{
		Channels: []ChannelPolicy{
			{Name: "tv", Minimum: Tell}, {Name: "mo", Minimum: Tell}, {Name: "jk", Minimum: Tell},
			{Name: "siren", Minimum: Ring}, {Name: "neighbour", Minimum: Ring, Backup: true},
		},
		Persons: []Person{
			{Name: "T. Vale", Initials: "T.V.", Channels: []string{"tv"}, Quiet: night},
			{Name: "M. Oldroyd", Initials: "M.O.", Channels: []string{"mo"}, Quiet: night},
			{Name: "J. Kemp", Initials: "J.K.", Channels: []string{"jk"}, Quiet: night},
		},
		Link: "http://larder.example",
	}
}

// A tale runs one alarm machine for each subject, and the people beside it.
type tale struct {
	t       *testing.T
	policy  Policy
	people  People
	alarms  map[string]*Alarm
	entries map[string]Entry
	number  int64
	sent    []Message
	lines   []string
}

func newTale(t *testing.T) *tale {
	return &tale{t: t, policy: household(), alarms: map[string]*Alarm{}, entries: map[string]Entry{}}
}

// ringer and teller are alarms that start at once, for a value of one.
func (s *tale) ringer(repeat time.Duration) Entry {
	return Entry{ID: "H3", Title: "Fire going out", Triggers: []Trigger{{Limit: 1, Level: Ring}}, Clear: Clear{}, Says: "it is out", Action: "Relight.", Repeat: repeat}
}

func (s *tale) teller() Entry {
	return Entry{ID: "C1", Title: "Fridge warm", Unit: "°C", Triggers: []Trigger{{Limit: 1, Level: Tell}}, Clear: Clear{}, Says: "{value}", Action: "Look."}
}

// restart goes the way over the stored form.
func (s *tale) restart() {
	state, err := json.Marshal(s.people)
	if err != nil {
		s.t.Fatal(err)
	}
	s.people = People{}
	if err := json.Unmarshal(state, &s.people); err != nil {
		s.t.Fatal(err)
	}
}

func (s *tale) events(e Entry, a *Alarm, events []Event) {
	for _, ev := range events {
		messages, _, _, hidden := s.people.Plan(s.policy, e, a, ev, Surroundings{})
		s.sent = append(s.sent, messages...)
		s.lines = append(s.lines, string(ev.Kind)+" "+hidden)
	}
}

func (s *tale) value(e Entry, subject string, at time.Time, v float64) *Alarm {
	a := s.alarms[subject]
	if a == nil {
		a = new(Alarm)
		s.alarms[subject], s.entries[subject] = a, e
	}
	s.events(e, a, Step(e, a, Signal{Subject: subject, At: at, Value: v}, func() int64 { s.number++; return s.number }))
	return a
}

// tick is a minute of the house.
func (s *tale) tick(now time.Time) {
	subjects := make([]string, 0, len(s.alarms))
	for subject := range s.alarms {
		subjects = append(subjects, subject)
	}
	slices.Sort(subjects)
	for _, subject := range subjects {
		s.events(s.entries[subject], s.alarms[subject], Tick(s.entries[subject], s.alarms[subject], now))
	}
	for _, p := range s.people.Tick(s.policy, now, s.look) {
		s.sent = append(s.sent, p.Messages...)
		s.lines = append(s.lines, p.Kind+": "+p.Text)
	}
}

func (s *tale) look(number int64) (Standing, bool) {
	for subject, a := range s.alarms {
		if a.Latest.Number == number && a.Latest.Active {
			return Standing{Entry: s.entries[subject], Alarm: a}, true
		}
	}
	return Standing{}, false
}

// until ticks every minute, and returns what was sent, as minute, channel and kind.
func (s *tale) until(from time.Time, minutes int) []string {
	s.sent = nil
	var got []string
	for i := 1; i <= minutes; i++ {
		s.tick(from.Add(time.Duration(i) * time.Minute))
		for _, m := range s.sent {
			got = append(got, fmt.Sprintf("%d %s %s", i, m.Channel, m.Kind))
		}
		s.sent = nil
	}
	return got
}

func (s *tale) wantSent(want ...string) {
	s.t.Helper()
	var got []string
	for _, m := range s.sent {
		got = append(got, m.Channel+" "+string(m.Kind))
	}
	s.sent = nil
	if !slices.Equal(got, want) {
		s.t.Errorf("sent %q, want %q", got, want)
	}
}

var three = time.Date(2031, 2, 5, 3, 0, 0, 0, time.UTC)

func TestStoryARingGoesDownTheLine(t *testing.T) {
	s := newTale(t)
	s.value(s.ringer(0), "batch OL-1", three, 2)
	s.wantSent("siren raised", "tv raised")
	got := s.until(three, 60)
	want := []string{"10 mo escalated", "25 tv escalated", "25 mo escalated", "25 jk escalated",
		"40 tv escalated", "40 mo escalated", "40 jk escalated", "40 siren escalated", "40 neighbour escalated"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if line := s.lines[len(s.lines)-1]; !strings.HasPrefix(line, "B8: alarm 1 H3: nobody answered in 40 min") {
		t.Errorf("the last line is %q", line)
	}
}

func TestAChannelThatPersonsShareIsToldOnce(t *testing.T) {
	s := newTale(t)
	s.policy.Channels = []ChannelPolicy{{Name: "tv", Minimum: Tell}, {Name: "siren", Minimum: Ring}}
	for i := range s.policy.Persons {
		s.policy.Persons[i].Channels = []string{"tv"}
	}
	day := three.Add(9 * time.Hour)
	s.value(s.teller(), "fridge alder", day, 2)
	s.wantSent("tv raised")
	s.value(s.ringer(0), "batch OL-1", three, 2)
	s.wantSent("siren raised", "tv raised")
	if got, want := s.until(three, 30), []string{"10 tv escalated", "25 tv escalated"}; !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

func TestStoryTheDutyIsAskedFirstAndAnAnswerEndsTheCall(t *testing.T) {
	s := newTale(t)
	if err := s.people.Take(s.policy, Duty{"M.O.", three.Add(4 * time.Hour)}, three.Add(-5*time.Hour)); err != nil {
		t.Fatal(err)
	}
	e := s.ringer(15 * time.Minute)
	a := s.value(e, "batch OL-1", three, 2)
	s.wantSent("siren raised", "mo raised")
	if got, want := s.until(three, 16), []string{"10 tv escalated", "15 siren repeated", "15 tv repeated", "15 mo repeated"}; !slices.Equal(slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(want))) {
		t.Errorf("got %q, want %q", got, want)
	}
	s.restart()
	s.events(e, a, Acknowledge(e, a, Answer{By: "T.V.", At: three.Add(17 * time.Minute)}))
	if got := s.until(three.Add(17*time.Minute), 300); len(got) != 0 {
		t.Errorf("after the answer %q were sent", got)
	}
	if s.people.Duty.By != "" || !slices.Contains(s.lines, "duty: the duty of M.O. is over") {
		t.Errorf("duty %+v; %q", s.people.Duty, s.lines)
	}
}

func TestDutyIsRefused(t *testing.T) {
	for _, d := range []Duty{{"X.X.", three.Add(time.Hour)}, {"M.O.", three}, {"M.O.", three.Add(8 * 24 * time.Hour)}, {"M.O.", time.Time{}}} {
		var s People
		if err := s.Take(household(), d, three); err == nil || s.Duty.By != "" {
			t.Errorf("%+v was taken: %v", d, err)
		}
	}
}

func TestStoryTheNightIsOneSummary(t *testing.T) {
	s := newTale(t)
	e := s.teller()
	for i := range 7 {
		s.value(e, fmt.Sprintf("fridge %d", i), three.Add(time.Duration(i)*time.Second), 2)
	}
	s.value(e, "fridge 3", three.Add(time.Hour), 0) // over by the morning
	s.wantSent()
	s.restart()
	if got := s.until(three, 209); len(got) != 0 {
		t.Fatalf("before half past six %q", got)
	}
	s.tick(three.Add(210 * time.Minute))
	m := s.sent[0]
	s.wantSent("tv digest", "mo digest", "jk digest")
	if m.Subject != "The night: 7 alarms waited, 6 stand now" || m.Level != Tell {
		t.Errorf("subject %q at level %s", m.Subject, m.Level)
	}
	if lines := strings.Split(m.Body, "\n"); len(lines) != 5 || lines[4] != "And 3 more http://larder.example/alarms" {
		t.Errorf("body:\n%s", m.Body)
	}
	s.value(e, "fridge 0", three.Add(6*time.Hour), 0) // who read the summary hears the end
	s.wantSent("tv cleared", "mo cleared", "jk cleared")
}

func TestStoryWhatIsOverByMorningIsToldSo(t *testing.T) {
	s := newTale(t)
	s.value(s.teller(), "fridge alder", three, 6.1)
	s.value(s.teller(), "fridge alder", three.Add(40*time.Minute), 0)
	s.tick(three.Add(4 * time.Hour))
	want := "Fridge warm, alder: over, 03:00 UTC to 03:40 UTC, worst 6.1 °C (1)\nAll of it: http://larder.example/alarms"
	if m := s.sent[0]; m.Subject != "The night: 1 alarm waited, none stands now" || m.Body != want {
		t.Errorf("%s\n%s", m.Subject, m.Body)
	}
}

func TestStoryAFloodIsOneDigestAndRingsStillRing(t *testing.T) {
	s, noon := newTale(t), three.Add(9*time.Hour)
	s.policy.Persons = s.policy.Persons[:1]
	s.policy.Channels = s.policy.Channels[:1]
	for i := range 14 {
		s.value(s.teller(), fmt.Sprintf("fridge %02d", i), noon.Add(time.Duration(i)*time.Second), 2)
	}
	if len(s.sent) != 10 {
		t.Errorf("%d messages before the digest, want 10", len(s.sent))
	}
	s.sent = nil
	s.value(s.ringer(0), "batch OL-1", noon.Add(time.Minute), 2)
	s.wantSent("tv raised")
	s.restart()
	s.tick(noon.Add(11 * time.Minute))
	s.sent = slices.DeleteFunc(s.sent, func(m Message) bool { return m.Kind == Escalated })
	if m := s.sent[0]; m.Subject != "Many at once: 4 alarms waited, 4 stand now" {
		t.Errorf("%s\n%s", m.Subject, m.Body)
	}
	s.wantSent("tv digest")
	s.value(s.teller(), "fridge 99", noon.Add(30*time.Minute), 2)
	s.wantSent("tv raised")
}

// A loose switch: who heard three times within the hour that it came gets the rest in
// one line an hour, with or without persons in the policy. Its rings still ring.
func TestStoryAChatterIsFolded(t *testing.T) {
	noon := three.Add(9 * time.Hour)
	for name, persons := range map[string][]Person{"named": household().Persons[:1], "nobody": nil} {
		s := newTale(t)
		s.policy.Persons, s.policy.Channels = persons, s.policy.Channels[:1]
		at := func(minute int) time.Time { return noon.Add(time.Duration(minute) * time.Minute) }
		for i := range 20 { // comes every four minutes, and goes
			s.value(s.teller(), "fridge alder", at(4*i), 2)
			s.value(s.teller(), "fridge alder", at(4*i+2), 0)
			s.tick(at(4*i + 3))
			s.restart()
		}
		var got []string
		for _, m := range s.sent {
			got = append(got, fmt.Sprintf("%d %s", int(m.Due.Sub(noon).Minutes()), m.Kind))
		}
		want := []string{"0 raised", "2 cleared", "4 raised", "6 cleared", "8 raised", "10 cleared", "75 digest"}
		if !slices.Equal(got, want) {
			t.Errorf("%s: sent %q, want %q", name, got, want)
		}
		i := slices.IndexFunc(s.sent, func(m Message) bool { return m.Kind == Digest })
		if i < 0 {
			t.Fatalf("%s: no digest", name)
		}
		line := "Fridge warm, alder: 16 times since 12:12 UTC, the last over, 13:12 UTC to 13:14 UTC, worst 2.0 °C (19)"
		if m := s.sent[i]; m.Subject != "Again and again: 1 alarm waited, none stands now" || !strings.HasPrefix(m.Body, line) {
			t.Errorf("%s: %s\n%s", name, m.Subject, m.Body)
		}
		s.sent = nil
		for i := range 5 {
			s.value(s.ringer(0), "batch OL-1", at(100+2*i), 2)
			s.value(s.ringer(0), "batch OL-1", at(101+2*i), 0)
		}
		if rings := slices.DeleteFunc(s.sent, func(m Message) bool { return m.Kind != Raised }); len(rings) != 5 {
			t.Errorf("%s: %d rings, want 5", name, len(rings))
		}
	}
}

// What is lost already wakes nobody, and rings when somebody is up.
func TestStoryWhatIsLostWaitsForTheMorning(t *testing.T) {
	late := Entry{ID: "L3", Title: "Chill took too long", Triggers: []Trigger{{Limit: 1, Level: Ring}}, Clear: Clear{Never: true},
		TellAtNight: true, Says: "{value}", Action: "Hold.", Repeat: time.Hour}
	s := newTale(t)
	s.value(late, "batch OL-1", three, 2)
	s.restart()
	got := s.until(three, 241)
	want := []string{"210 tv digest", "210 mo digest", "210 jk digest", "240 siren repeated", "240 tv repeated"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	awake := newTale(t)
	awake.policy.Persons[2].Quiet = Quiet{}
	awake.value(late, "batch OL-1", three, 2)
	awake.wantSent("siren raised", "jk raised")
	nobody := newTale(t)
	nobody.policy.Persons = nil
	nobody.value(late, "batch OL-1", three, 2)
	nobody.wantSent("tv raised", "mo raised", "jk raised", "siren raised")
}

func TestStoryAShelfStopsTheCallAndItsEndBeginsIt(t *testing.T) {
	s := newTale(t)
	e := s.ringer(15 * time.Minute)
	a := s.value(e, "batch OL-1", three, 2)
	s.wantSent("siren raised", "tv raised")
	if err := PutOnShelf(a, Shelf{By: "T.V.", Reason: "loading", Until: three.Add(40 * time.Minute)}, three); err != nil {
		t.Fatal(err)
	}
	if got, want := s.until(three, 49), []string{"40 siren re-alarmed", "40 tv re-alarmed"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	s.tick(three.Add(50 * time.Minute))
	s.wantSent("mo escalated")
}

func TestOutOfServiceHasALongerEndAndStillOne(t *testing.T) {
	day := 24 * time.Hour
	for until, want := range map[time.Duration][2]bool{time.Hour: {true, true}, 25 * time.Hour: {false, true}, 7 * day: {false, true}, 8 * day: {false, false}, 0: {false, false}} {
		for i, out := range []bool{false, true} {
			err := PutOnShelf(new(Alarm), Shelf{By: "T.V.", Reason: "new seal", Until: three.Add(until), Out: out}, three)
			if (err == nil) != want[i] {
				t.Errorf("until %s, out of service %v: %v", until, out, err)
			}
		}
	}
	if PutOnShelf(new(Alarm), Shelf{By: "T.V.", Reason: "x"}, three) == nil || PutOnShelf(new(Alarm), Shelf{Reason: "x", Until: three.Add(time.Hour)}, three) == nil {
		t.Error("a shelf without an end or an owner was taken")
	}
}

func TestARingIsJudgedOnce(t *testing.T) {
	s := newTale(t)
	s.value(s.ringer(0), "batch OL-1", three, 2)
	s.value(s.teller(), "fridge alder", three, 2)
	for _, bad := range []Judgement{{Number: 1, Word: "nice", By: "T.V."}, {Number: 1, Word: "late"}, {Number: 2, Word: "late", By: "T.V."}, {Number: 9, Word: "late", By: "T.V."}} {
		if _, err := s.people.Judge(bad); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
	if j, err := s.people.Judge(Judgement{Number: 1, Word: "late", By: "T.V."}); err != nil || j.Entry != "H3" {
		t.Errorf("%+v, %v", j, err)
	}
	if _, err := s.people.Judge(Judgement{Number: 1, Word: "useful", By: "M.O."}); err == nil {
		t.Error("judged twice")
	}
}

// Whatever the quiet hours, the duty, the hour and the restarts: rings come at the
// same minutes through the same channels as with no quiet hours at all.
func TestQuietHoursNeverDelayARing(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		minute := rapid.IntRange(0, 24*60-1)
		quiet := make([]Quiet, 3)
		for i := range quiet {
			quiet[i] = Quiet{time.Duration(minute.Draw(r, "from")) * time.Minute, time.Duration(minute.Draw(r, "to")) * time.Minute}
		}
		start := three.Add(time.Duration(minute.Draw(r, "start")) * time.Minute)
		duty := rapid.SampledFrom([]string{"", "M.O.", "J.K."}).Draw(r, "duty")
		values := rapid.SliceOfN(rapid.IntRange(0, 7), 1, 90).Draw(r, "values")
		run := func(quiet []Quiet, restart bool) (all, rings []string) {
			s := newTale(t)
			for i := range quiet {
				s.policy.Persons[i].Quiet = quiet[i]
			}
			if duty != "" {
				s.people.Duty = Duty{duty, start.Add(time.Hour)}
			}
			for i, v := range values {
				at := start.Add(time.Duration(i) * time.Minute)
				s.value(s.ringer(15*time.Minute), "batch OL-1", at, float64(v&1)*2)
				s.value(s.teller(), "fridge alder", at, float64(v&2))
				if a := s.alarms["batch OL-1"]; v == 7 && i%9 == 0 {
					s.events(s.entries["batch OL-1"], a, Acknowledge(s.entries["batch OL-1"], a, Answer{By: "T.V.", At: at}))
				}
				s.tick(at)
				if restart {
					s.restart()
				}
				for _, m := range s.sent {
					line := fmt.Sprintf("%d %s %s %s", i, m.Channel, m.Kind, m.Subject)
					all = append(all, line)
					if m.Level == Ring {
						rings = append(rings, line)
					}
				}
				s.sent = nil
			}
			return all, rings
		}
		_, awake := run(make([]Quiet, 3), false)
		all, asleep := run(quiet, false)
		if !slices.Equal(awake, asleep) {
			r.Fatalf("quiet hours changed the rings:\n%q\n%q", awake, asleep)
		}
		if again, _ := run(quiet, true); !slices.Equal(all, again) {
			r.Fatalf("restarts changed the messages:\n%q\n%q", all, again)
		}
	})
}
