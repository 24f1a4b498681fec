package alerts

import (
	"encoding/json"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// answered rings at three, lets minutes pass, and may be answered and that taken back.
func answered(t *testing.T, answer, back int) *tale {
	s := newTale(t)
	e := s.ringer(15 * time.Minute)
	a := s.value(e, "batch OL-1", three, 2)
	s.sent = nil
	for m := 1; m <= 45; m++ {
		now := three.Add(time.Duration(m) * time.Minute)
		if m == answer {
			s.events(e, a, Acknowledge(e, a, Answer{ID: "a1", By: "M.O.", At: now.Add(-30 * time.Second)}))
		}
		if m == back {
			s.events(e, a, Withdraw(e, a, "a1", Withdrawal{By: "M.O.", At: now, Why: "cannot leave"}))
			s.restart()
		}
		s.tick(now)
		if m == 20 {
			s.restart()
		}
	}
	return s
}

// Taken back within the minute, everything goes on as if nobody had answered: the second
// person, the repeats, all of them, and B8.
func TestStoryAnAnswerTakenBackIsAsIfNobodyAnswered(t *testing.T) {
	never := answered(t, 0, 0)
	back := answered(t, 8, 8)
	text := func(s *tale) (out []string) {
		for _, m := range s.sent {
			out = append(out, m.Due.Format("15:04 ")+m.Channel+" "+string(m.Kind)+" "+m.Body)
		}
		return out
	}
	if want, got := text(never), text(back); len(want) < 10 || !slices.Equal(want, got) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	told := answered(t, 8, 0)
	if len(told.sent) != 0 {
		t.Errorf("an answer that stands: %q", text(told))
	}
}

// Taken back later, what was missed comes at once, one time.
func TestAnAnswerTakenBackLate(t *testing.T) {
	s := answered(t, 2, 33)
	var at33 []string
	for _, m := range s.sent {
		if m.Due.Before(three.Add(32 * time.Minute)) {
			t.Errorf("%s %s at %s, while somebody was on it", m.Channel, m.Kind, m.Due)
		}
		if m.Due.Equal(three.Add(33 * time.Minute)) {
			at33 = append(at33, m.Channel+" "+string(m.Kind))
		}
	}
	if !slices.Contains(at33, "mo escalated") || !slices.Contains(at33, "jk escalated") || len(at33) > 6 {
		t.Errorf("at once %q", at33)
	}
	a := s.alarms["batch OL-1"]
	if an := a.Latest.Answers; len(an) != 1 || an[0].Withdrawn == nil || an[0].Withdrawn.Why != "cannot leave" || !a.Latest.AcknowledgedAt.IsZero() || a.Latest.AcknowledgedBy != "" {
		t.Errorf("answers %+v, acknowledged by %q", an, a.Latest.AcknowledgedBy)
	}
	if line := slices.IndexFunc(s.lines, func(l string) bool { return l == "unacknowledged it goes on as if nobody had answered" }); line < 0 {
		t.Errorf("lines %q", s.lines)
	}
}

func TestWhatCannotBeTakenBack(t *testing.T) {
	at := func(m int) time.Time { return three.Add(time.Duration(m) * time.Minute) }
	s := newTale(t)
	e := s.ringer(15 * time.Minute)
	e.ReAlarm = time.Hour
	a := s.value(e, "batch OL-1", three, 2)
	refused := func(name, id string) {
		t.Helper()
		before, _ := json.Marshal(a)
		if err := Withdrawable(e, a, id); err == nil || Withdraw(e, a, id, Withdrawal{By: "T.V.", At: at(99)}) != nil {
			t.Errorf("%s: taken back (%v)", name, err)
		}
		if after, _ := json.Marshal(a); string(after) != string(before) {
			t.Errorf("%s: refused, and changed", name)
		}
	}
	refused("no answer", "a1")
	refused("no name", "")
	Acknowledge(e, a, Answer{ID: "a1", By: "T.V.", At: at(1)})
	if Withdraw(e, a, "a1", Withdrawal{By: "T.V.", At: at(2)}) == nil {
		t.Fatal("not taken back")
	}
	refused("twice", "a1")
	Acknowledge(e, a, Answer{ID: "a2", By: "M.O.", At: at(3)})
	refused("an earlier one", "a1")
	if ev := Tick(e, a, at(64)); len(ev) != 1 || ev[0].Kind != ReAlarmed {
		t.Fatalf("%+v", ev)
	}
	refused("it asks again", "a2")
	Acknowledge(e, a, Answer{ID: "a3", By: "M.O.", At: at(65)})
	s.value(e, "batch OL-1", at(66), 0)
	refused("over", "a3")
}

// Where the answer is the end, taking it back lets the alarm stand again, unless what it
// tells of was normal since.
func TestAnEndByAnswerIsTakenBack(t *testing.T) {
	for _, normal := range []bool{false, true} {
		s := newTale(t)
		e := s.ringer(15 * time.Minute)
		e.Clear = Clear{Never: true, ByAck: true}
		a := s.value(e, "batch OL-1", three, 2)
		s.events(e, a, Acknowledge(e, a, Answer{ID: "a1", By: "T.V.", At: three.Add(time.Minute)}))
		if a.Latest.Active {
			t.Fatal("the answer did not end it")
		}
		v := 2.0
		if normal {
			v = 0
		}
		s.value(e, "batch OL-1", three.Add(90*time.Second), v)
		s.events(e, a, Withdraw(e, a, "a1", Withdrawal{By: "T.V.", At: three.Add(2 * time.Minute)}))
		if a.Latest.Active == normal || a.Latest.ClearedAt.IsZero() == normal {
			t.Errorf("normal since: %v; active %v, over %s", normal, a.Latest.Active, a.Latest.ClearedAt)
		}
		if s.sent = nil; !normal {
			if got := s.until(three.Add(2*time.Minute), 14); !slices.Equal(got, []string{"8 mo escalated", "13 siren repeated", "13 tv repeated", "13 mo repeated"}) {
				t.Errorf("sent after that %q", got)
			}
		}
	}
}

// An answer and its withdrawal in between change nothing of what a machine does after.
func TestAWithdrawnAnswerLeavesNoTraceInTheMachine(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		e := Entry{ID: "C1", Unit: "°C", Triggers: []Trigger{{Limit: 5, For: 10 * time.Minute, Level: Tell}, {Limit: 8, Level: Ring}}, Clear: Clear{Limit: 4, For: 5 * time.Minute},
			Repeat: 15 * time.Minute, ReAlarm: time.Hour}
		var plain, back Alarm
		number := func() func() int64 { n := int64(0); return func() int64 { n++; return n } }
		one, two := number(), number()
		for m := range 200 {
			s := Signal{Subject: "fridge", At: three.Add(time.Duration(m) * time.Minute), Value: rapid.Float64Range(2, 10).Draw(rt, "v")}
			x, y := Step(e, &plain, s, one), Step(e, &back, s, two)
			if len(x) != len(y) {
				rt.Fatalf("minute %d: %d events, %d with an answer that was taken back", m, len(x), len(y))
			}
			if rapid.IntRange(0, 9).Draw(rt, "answer") == 0 && back.Latest.Active {
				id := s.At.String()
				Acknowledge(e, &back, Answer{ID: id, By: "T.V.", At: s.At})
				Withdraw(e, &back, id, Withdrawal{By: "T.V.", At: s.At.Add(20 * time.Second)})
			}
			p, b := plain, back
			p.Latest.Answers, b.Latest.Answers = nil, nil
			if !reflect.DeepEqual(p, b) {
				rt.Fatalf("minute %d:\n%+v\n%+v", m, p, b)
			}
		}
	})
}
