package alerts

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"
)

// A history is one random run of signals, as a fridge or a smoker may give them:
// a wandering value, now and then a gap, a sample that is not believed, an end.
func history(r *rand.Rand) []Signal {
	signals := make([]Signal, 20+r.IntN(100))
	at, value := noon, 4+3*r.Float64()
	spacing := []time.Duration{10 * time.Second, time.Minute, 7 * time.Minute}[r.IntN(3)]
	for i := range signals {
		switch r.IntN(30) {
		case 0:
			at = at.Add(time.Duration(r.IntN(int(4 * time.Hour))))
		case 1: // two at the same time
		default:
			at = at.Add(spacing/2 + time.Duration(r.Int64N(int64(spacing))))
		}
		value += 1.5 * r.NormFloat64()
		value += (5 - value) * 0.2
		signals[i] = Signal{Subject: "fridge alder", At: at, Value: value}
		switch r.IntN(60) {
		case 0:
			signals[i].State = Over
		case 1, 2, 3:
			signals[i].State = Unknown
		}
	}
	return signals
}

// entry is a random entry with one or two triggers, about the values of history.
func entry(r *rand.Rand) Entry {
	minutes := func(n int) time.Duration { return time.Duration(r.IntN(n)) * time.Minute }
	e := warm()
	e.Triggers = []Trigger{{Limit: 5 + r.Float64(), For: minutes(30), Level: Tell}, {Limit: 6 + 2*r.Float64(), For: minutes(10), Level: Ring}}
	e.Triggers = e.Triggers[:1+r.IntN(2)]
	e.Clear = Clear{Limit: 5 - 2*r.Float64(), For: minutes(20)}
	summed := r.IntN(2) == 0
	for i := range e.Triggers {
		if t := &e.Triggers[i]; summed { // then all of one level, as CheckCatalogue demands
			t.Level = Ring
			t.For += time.Minute
			t.Sum, t.Window = t.For/2+minutes(60), 6*time.Hour
		}
	}
	return e
}

// slower is e with a wider deadband or a longer delay, or several of them.
func slower(e Entry, r *rand.Rand) Entry {
	more := func() time.Duration { return time.Duration(r.IntN(2)) * time.Duration(r.IntN(40)) * time.Minute }
	e.Triggers = append([]Trigger(nil), e.Triggers...)
	for i := range e.Triggers {
		e.Triggers[i].For += more()
		if e.Triggers[i].Sum > 0 {
			e.Triggers[i].Sum += more()
		}
	}
	e.Clear.For += more()
	e.Clear.Limit -= float64(r.IntN(2)) * 2 * r.Float64()
	return e
}

// counter follows an alarm and counts what people would hear.
type counter struct {
	Alarm
	e             Entry
	raised, rings int
	numbers       int64
}

func (c *counter) next() int64 { c.numbers++; return c.numbers }

func (c *counter) step(s Signal) []Event { return c.count(Step(c.e, &c.Alarm, s, c.next)) }

func (c *counter) count(events []Event) []Event {
	for _, ev := range events {
		if ev.Kind == Raised {
			c.raised++
		}
		if ev.Level == Ring && (ev.Kind == Raised || ev.Kind == Worsened) {
			c.rings++
		}
	}
	return events
}

// random gives each round its own seed, so that one round can be run again.
func random(round int) *rand.Rand { return rand.New(rand.NewPCG(2031, uint64(round))) }

func TestWiderDeadbandOrLongerDelayNeverRingsMore(t *testing.T) {
	t.Parallel()
	const rounds = 200_000
	raised := 0
	for round := range rounds {
		r := random(round)
		e := entry(r)
		quick, slow := &counter{e: e}, &counter{e: slower(e, r)}
		for i, s := range history(r) {
			quick.step(s)
			slow.step(s)
			if slow.raised > quick.raised || slow.rings > quick.rings {
				t.Fatalf("round %d, signal %d: raised %d and rang %d, more than %d and %d\nquick %+v\nslow %+v",
					round, i, slow.raised, slow.rings, quick.raised, quick.rings, quick.e, slow.e)
			}
		}
		raised += quick.raised
	}
	if raised < rounds/4 {
		t.Errorf("%d alarms in %d rounds: the histories are too quiet to show anything", raised, rounds)
	}
}

// condition keeps the events that tell of the condition, without the reminders.
func condition(events []Event) (found []Event) {
	for _, ev := range events {
		if ev.Kind == Raised || ev.Kind == Worsened || ev.Kind == Cleared {
			found = append(found, Event{Kind: ev.Kind, Number: ev.Number, Level: ev.Level})
		}
	}
	return found
}

// Ticks in between, a restart after any step: the same alarms with the same
// numbers.
func TestTicksAndRestartsChangeNothing(t *testing.T) {
	for round := range 2000 {
		r := random(round)
		e := entry(r)
		plain, broken := &counter{e: e}, &counter{e: e}
		var want, got []Event
		last := noon
		for _, s := range history(r) {
			if s.State == Unknown {
				continue // it holds back the off-delay, unless a tick came before it
			}
			for gap := s.At.Sub(last); r.IntN(2) == 0; {
				got = append(got, condition(Tick(e, &broken.Alarm, last.Add(time.Duration(r.Int64N(int64(gap)+1)))))...)
			}
			last = s.At
			want = append(want, condition(plain.step(s))...)
			got = append(got, condition(broken.step(s))...)
			if r.IntN(10) == 0 {
				broken.Alarm = restarted(t, broken.Alarm)
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("round %d: %+v, want %+v", round, got, want)
		}
	}
}

// restarted is a as it comes back from the store.
func restarted(t *testing.T, a Alarm) (again Alarm) {
	t.Helper()
	stored, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(stored, &again); err != nil {
		t.Fatal(err)
	}
	return again
}

// The same events to the last field, not only the same alarms.
func TestRestartsChangeNoWordOfAnEvent(t *testing.T) {
	for round := range 300 {
		r := random(round)
		e := entry(r)
		plain, stored := &counter{e: e}, &counter{e: e}
		for i, s := range history(r) {
			stored.Alarm = restarted(t, stored.Alarm)
			want, got := plain.step(s), stored.step(s)
			if r.IntN(10) == 0 {
				want = append(want, Acknowledge(e, &plain.Alarm, Answer{By: "T.V.", At: s.At})...)
				got = append(got, Acknowledge(e, &stored.Alarm, Answer{By: "T.V.", At: s.At})...)
			}
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("round %d, signal %d: %+v, want %+v", round, i, got, want)
			}
		}
	}
}

func TestUnknownNeverRaisesNorClears(t *testing.T) {
	for round := range 3000 {
		r := random(round)
		c := &counter{e: entry(r)}
		for _, s := range history(r) {
			if s.State != Over && r.IntN(2) == 0 {
				blind := s
				blind.State, blind.Value = Unknown, 1000*r.NormFloat64()
				state := c.State()
				if events := condition(c.step(blind)); len(events) > 0 || c.State() != state {
					t.Fatalf("round %d: an unknown sample made %+v, %s of %s", round, events, c.State(), state)
				}
				if events := condition(Tick(c.e, &c.Alarm, blind.At.Add(time.Hour))); len(events) > 0 {
					t.Fatalf("round %d: time alone made %+v while blind", round, events)
				}
			}
			c.step(s)
		}
	}
}

// Following the deadlines always comes to an end, and every shelf ends.
func TestDeadlinesMoveOn(t *testing.T) {
	for round := range 1000 {
		r := random(round)
		c := &counter{e: entry(r)}
		for _, s := range history(r) {
			c.step(s)
			if r.IntN(20) == 0 {
				_ = PutOnShelf(&c.Alarm, Shelf{By: "T.V.", Reason: "loading", Until: s.At.Add(time.Hour)}, s.At)
			}
			for last := s.At; ; {
				due, ok := Deadline(c.e, &c.Alarm)
				if !ok || due.After(s.At.Add(12*time.Hour)) {
					break
				}
				if !due.After(last) {
					t.Fatalf("round %d: the deadline %s comes again", round, due)
				}
				copied := c.Alarm
				if Tick(c.e, &copied, due.Add(-1)); !reflect.DeepEqual(copied, c.Alarm) {
					t.Fatalf("round %d: something changed before the deadline", round)
				}
				c.count(Tick(c.e, &c.Alarm, due))
				last = due
			}
			if s.At.Before(c.Shelf.Until) {
				t.Fatalf("round %d: the shelf did not end", round)
			}
		}
	}
}
