package alerts

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

// larder is the policy of a shop with two phones, a mail box and a backup.
func larder() Policy {
	return Policy{
		Channels: []ChannelPolicy{
			{Name: "tv", Minimum: Tell}, {Name: "mo", Minimum: Ring}, {Name: "mail", Minimum: Note}, {Name: "neighbour", Minimum: Ring, Backup: true},
		},
		Location: time.FixedZone("VMT", 3600),
		Link:     "http://larder.example:8080/",
	}
}

// raisedEvent is H3 raised at 03:02 local time.
func raisedEvent(e Entry) Event {
	at := time.Date(2031, 2, 5, 2, 2, 0, 0, time.UTC)
	return Event{
		Kind: Raised, Entry: e.ID, Subject: "batch OL-31-09", Number: 17, Level: Ring, At: at, Since: at.Add(-12 * time.Minute),
		Value: 24, Worst: 26, Limit: e.Triggers[0].Limit, Action: e.Action, Reason: "on-delay passed", Again: at.Add(e.Repeat),
	}
}

func names(messages []Message) (found []string) {
	for _, m := range messages {
		found = append(found, m.Channel)
	}
	return found
}

func TestMessagesInFull(t *testing.T) {
	e := catalogued(t, "H3")
	for _, c := range []struct {
		name          string
		change        func(*Policy, *Event)
		details       []string
		subject, body string
	}{
		{"raised", func(*Policy, *Event) {}, []string{"Core 49.4 °C."}, "RING Fire going out: OL-31-09",
			`24.0 °C below its set point, limit 16.7 °C, since 02:50 VMT (12 min).
Core 49.4 °C.
Do first: Relight, or reset the breaker. Note the core now. Do not open more than needed.
Asks again at 03:17 VMT unless somebody answers.
Alarm 17 (H3), batch OL-31-09 http://larder.example:8080/alarms/17`},
		{"repeated, in Fahrenheit, over midnight, no page", func(p *Policy, ev *Event) {
			p.Fahrenheit, p.Link = true, ""
			ev.Kind, ev.Since = Repeated, ev.At.Add(-4*time.Hour)
		}, nil, "RING Still: Fire going out: OL-31-09",
			`43.2 °F below its set point, limit 30.0 °F, since Tue 4 Feb 23:02 VMT (4 h).
Do first: Relight, or reset the breaker. Note the core now. Do not open more than needed.
Asks again at 03:17 VMT unless somebody answers.
Alarm 17 (H3), batch OL-31-09`},
		{"cleared", func(_ *Policy, ev *Event) {
			ev.Kind, ev.Reason, ev.Value, ev.Since = Cleared, backInside, 2, ev.At.Add(-80*time.Minute)
		}, nil, "Over: Fire going out: OL-31-09",
			`Lasted 1 h 20 min, from 01:42 VMT to 03:02 VMT; worst 26.0 °C below its set point; now 2.0 °C below its set point; none of it for 5 min or more.
Alarm 17 (H3), batch OL-31-09 http://larder.example:8080/alarms/17`},
		{"over", func(_ *Policy, ev *Event) { ev.Kind, ev.Reason = Cleared, "no longer applies" }, nil, "Over: Fire going out: OL-31-09",
			`Lasted 12 min, from 02:50 VMT to 03:02 VMT; worst 26.0 °C below its set point; no longer applies.
Alarm 17 (H3), batch OL-31-09 http://larder.example:8080/alarms/17`},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, ev, a := larder(), raisedEvent(e), &Alarm{Told: []string{"tv"}}
			c.change(&p, &ev)
			messages, hidden := Plan(p, e, a, ev, Surroundings{Details: c.details})
			if hidden != "" || len(messages) == 0 {
				t.Fatalf("hidden: %q", hidden)
			}
			m := messages[0]
			if m.Subject != c.subject || m.Body != c.body {
				t.Errorf("got\n%s\n%s\nwant\n%s\n%s", m.Subject, m.Body, c.subject, c.body)
			}
			if m.Alarm != 17 || m.Entry != "H3" || m.Kind != ev.Kind || m.Due != ev.At {
				t.Errorf("message = %+v", m)
			}
		})
	}
}

func TestWhoIsTold(t *testing.T) {
	e := catalogued(t, "H3")
	for _, c := range []struct {
		name   string
		change func(*Policy, *Event)
		want   []string
		level  Level
	}{
		{"a ring goes to everybody but the backup", func(*Policy, *Event) {}, []string{"tv", "mo", "mail"}, Ring},
		{"a tell spares who wants rings only", func(_ *Policy, ev *Event) { ev.Level = Tell }, []string{"tv", "mail"}, Tell},
		{"a note is sent to nobody", func(_ *Policy, ev *Event) { ev.Level = Note }, nil, Note},
		{"the house made it milder", func(p *Policy, _ *Event) { p.Levels = map[string]Level{"H3": Tell} }, []string{"tv", "mail"}, Tell},
		{"the house cannot make it louder", func(p *Policy, ev *Event) {
			p.Levels, ev.Level = map[string]Level{"H3": Ring}, Tell
		}, []string{"tv", "mail"}, Tell},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, ev, a := larder(), raisedEvent(e), &Alarm{}
			c.change(&p, &ev)
			messages, hidden := Plan(p, e, a, ev, Surroundings{})
			if !slices.Equal(names(messages), c.want) || !slices.Equal(a.Told, c.want) {
				t.Errorf("sent to %v, remembered %v, want %v", names(messages), a.Told, c.want)
			}
			if (hidden == "") != (len(messages) > 0) {
				t.Errorf("%d messages, hidden %q", len(messages), hidden)
			}
			for _, m := range messages {
				if m.Level != c.level {
					t.Errorf("level = %s, want %s", m.Level, c.level)
				}
			}
		})
	}
}

func TestClearGoesToThoseWhoHeardTheStart(t *testing.T) {
	e, a, p := catalogued(t, "H3"), &Alarm{}, larder()
	p.Channels = p.Channels[:2]
	Plan(p, e, a, raisedEvent(e), Surroundings{})
	cleared := raisedEvent(e)
	cleared.Kind = Cleared
	p = larder() // the mail box was added meanwhile
	messages, _ := Plan(p, e, a, cleared, Surroundings{})
	if !slices.Equal(names(messages), []string{"tv", "mo"}) || messages[0].Level != Tell {
		t.Errorf("sent to %v at level %s, want tv and mo, waking nobody", names(messages), messages[0].Level)
	}
	if messages, hidden := Plan(p, e, a, cleared, Surroundings{}); len(messages) != 0 || hidden != "nobody was told of the start" {
		t.Errorf("a second clear: %d messages, hidden %q", len(messages), hidden)
	}
}

func TestOneCauseOneRing(t *testing.T) {
	e, a, fireOut := catalogued(t, "H5"), &Alarm{}, true
	s := Surroundings{Explained: func(id string) bool { return id == "H3" && fireOut }}
	ev := raisedEvent(e)
	ev.Level = Tell
	if messages, hidden := Plan(larder(), e, a, ev, s); len(messages) != 0 || hidden != "explained by H3" {
		t.Errorf("%d messages, hidden %q, want none and the cause", len(messages), hidden)
	}
	fireOut = false
	ev.Kind = Repeated
	messages, _ := Plan(larder(), e, a, ev, s)
	if !slices.Equal(names(messages), []string{"tv", "mail"}) {
		t.Errorf("after the cause has gone the repeat went to %v, want tv and mail", names(messages))
	}
	ev.Kind = Cleared
	if messages, _ := Plan(larder(), e, a, ev, s); len(messages) != 2 {
		t.Errorf("%d clears, want 2", len(messages))
	}
}

func TestHiddenEventsAreNotSent(t *testing.T) {
	e, a := catalogued(t, "H3"), &Alarm{}
	ev := raisedEvent(e)
	ev.Hidden = "on the shelf until noon by T.V.: loading"
	if messages, hidden := Plan(larder(), e, a, ev, Surroundings{}); len(messages) != 0 || hidden != ev.Hidden {
		t.Errorf("%d messages, hidden %q", len(messages), hidden)
	}
	ev.Hidden, ev.Kind = "", Acknowledged
	if messages, hidden := Plan(larder(), e, a, ev, Surroundings{}); len(messages) != 0 || hidden == "" {
		t.Errorf("an acknowledgement sent %d messages", len(messages))
	}
}

// Every entry reads well on a phone: no blank left, an action, a number, and a
// first line that fits.
func TestEveryEntryReads(t *testing.T) {
	for _, e := range Catalogue(Wood) {
		for _, kind := range []EventKind{Raised, Worsened, Repeated, ReAlarmed, Cleared} {
			ev := raisedEvent(e)
			ev.Kind, ev.Value = kind, e.Triggers[0].Limit
			messages, hidden := Plan(larder(), e, &Alarm{Told: []string{"tv"}}, ev, Surroundings{})
			if hidden != "" {
				t.Fatalf("%s: hidden: %s", e.ID, hidden)
			}
			m := messages[0]
			if strings.ContainsAny(m.Subject+m.Body, "{}") || !strings.Contains(m.Body, "Alarm 17 ("+e.ID+")") {
				t.Errorf("%s %s:\n%s\n%s", e.ID, kind, m.Subject, m.Body)
			}
			if kind != Cleared && !strings.Contains(m.Body, e.Action) {
				t.Errorf("%s %s says nothing to do", e.ID, kind)
			}
			if n := len([]rune(m.Subject)); n > 80 {
				t.Errorf("%s %s: first line has %d characters: %s", e.ID, kind, n, m.Subject)
			}
		}
	}
}

// A message goes on through the backup, then through every other way that takes it, and
// no way twice.
func TestRedirect(t *testing.T) {
	p, m := larder(), Message{ID: 5, Alarm: 17, Level: Ring, Channel: "tv", Body: "x"}
	had := map[string]bool{"tv": true}
	used := func(channel string) bool { return had[channel] }
	var ways []string
	for next, ok := p.Redirect(m, "answered 404", used); ok; next, ok = p.Redirect(next, "busy", used) {
		if next.ID != 0 || next.Alarm != 17 || !strings.Contains(next.Body, "tv failed: answered 404") {
			t.Errorf("next = %+v", next)
		}
		if other := (Message{Channel: "tv", Body: "y"}); !next.Replaces(m) || next.Replaces(other) || m.Replaces(next) {
			t.Errorf("%+v is not known as what replaces %+v, or as more than that", next, m)
		}
		had[next.Channel] = true
		ways = append(ways, next.Channel)
	}
	if want := []string{"neighbour", "mo", "mail"}; !slices.Equal(ways, want) {
		t.Errorf("%q, want %q", ways, want)
	}
	had = map[string]bool{"tv": true}
	m.Level = Tell
	if next, ok := p.Redirect(m, "x", used); !ok || next.Channel == "neighbour" {
		t.Errorf("a tell went to %+v, %v", next, ok)
	}
	m.Kind = TestRing
	if next, ok := p.Redirect(m, "x", used); ok {
		t.Errorf("a way that was tried out rings elsewhere: %+v", next)
	}
}

// A dead way is told by the others, to everybody they reach, and by itself only when
// it is the only one.
func TestADeadWayIsToldByTheOthers(t *testing.T) {
	dead := Entry{ID: "B7", Title: "A path is dead", Triggers: []Trigger{{Limit: 1, Level: Ring}}, Says: "{value}", Action: "Look."}
	for _, c := range []struct {
		subject string
		persons bool
		want    []string
	}{
		{"phone path tv", true, []string{"siren", "neighbour", "mo", "jk"}},
		{"phone path tv/2", true, []string{"siren", "neighbour", "mo", "jk"}},
		{"phone path mo", false, []string{"tv", "jk", "siren", "neighbour"}},
		{"broker", true, []string{"siren", "tv"}},
	} {
		s := newTale(t)
		if !c.persons {
			s.policy.Persons = nil
		}
		s.value(dead, c.subject, three, 2)
		var got []string
		for _, m := range s.sent {
			got = append(got, m.Channel)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: told by %q, want %q", c.subject, got, c.want)
		}
	}
	s := newTale(t)
	s.policy.Channels, s.policy.Persons = s.policy.Channels[:1], s.policy.Persons[:1]
	s.value(dead, "phone path tv", three, 2)
	s.wantSent("tv raised")
}

func TestTestRingGoesEveryWay(t *testing.T) {
	if got := names(larder().Test(noon)); !slices.Equal(got, []string{"tv", "mo", "mail", "neighbour"}) {
		t.Errorf("tested %v", got)
	}
}

// Both nights of a clock change name their zone, so that 02:30 is not doubtful.
func TestTimesInTheNightTheClocksGoBack(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	p := Policy{Location: zone}
	first := time.Date(2031, 10, 26, 0, 30, 0, 0, time.UTC)
	if a, b := p.clock(first, first), p.clock(first.Add(time.Hour), first); a != "02:30 CEST" || b != "02:30 CET" {
		t.Errorf("%s and %s", a, b)
	}
}

func TestSpan(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 s", 42 * time.Second: "42 s", 90 * time.Second: "2 min", 59*time.Minute + 50*time.Second: "1 h",
		61 * time.Minute: "1 h 1 min", 25 * time.Hour: "25 h", 48 * time.Hour: "2 days", 73*time.Hour + 20*time.Minute: "3 days 1 h", -5 * time.Minute: "-5 min", math.MinInt64: "-106751 days 23 h",
	} {
		if got := span(d); got != want {
			t.Errorf("%s: %q, want %q", d, got, want)
		}
	}
	if got := decimal(-0.04); got != "0.0" {
		t.Errorf("decimal(-0.04) = %q", got)
	}
}
