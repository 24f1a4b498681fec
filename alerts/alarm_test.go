package alerts

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// noon is when the stories begin.
var noon = time.Date(2031, 2, 4, 12, 0, 0, 0, time.UTC)

// warm is an entry with every kind of delay.
func warm() Entry {
	return Entry{
		ID: "X1", Title: "Warm", Measure: "m", Unit: "°C", Says: "{value} of {limit}", Action: "look", Source: proposal,
		Triggers: []Trigger{{Limit: 5, For: 10 * time.Minute, Level: Tell}, {Limit: 8, For: 2 * time.Minute, Level: Ring}},
		Clear:    Clear{Limit: 4, For: 5 * time.Minute},
		Repeat:   time.Hour, ReAlarm: 2 * time.Hour,
	}
}

// A step of a story: at a minute, a value, or a word for something else. want is
// the state after it and the events it made.
type step struct {
	minute int
	value  any // float64, or "unknown", "over", "tick", "ack", "shelf", "end"
	want   string
}

// story runs steps against a fresh alarm.
func story(t *testing.T, e Entry, steps []step) *Alarm {
	t.Helper()
	a, number := &Alarm{}, int64(0)
	next := func() int64 { number++; return number }
	for i, s := range steps {
		at := noon.Add(time.Duration(s.minute) * time.Minute)
		got := strings.TrimSpace(string(a.after(t, e, at, s.value, next)))
		if got != s.want {
			t.Fatalf("step %d, minute %d, %v: got %q, want %q", i+1, s.minute, s.value, got, s.want)
		}
		if due, ok := Deadline(e, a); ok && !due.After(at) {
			t.Fatalf("step %d: the deadline %s has passed already", i+1, due)
		}
	}
	return a
}

// after takes one step and describes it: "active raised#1 ring".
func (a *Alarm) after(t *testing.T, e Entry, at time.Time, value any, next func() int64) string {
	t.Helper()
	var events []Event
	switch v := value.(type) {
	case int:
		events = Step(e, a, Signal{Subject: "fridge alder", At: at, Value: float64(v)}, next)
	case float64:
		events = Step(e, a, Signal{Subject: "fridge alder", At: at, Value: v}, next)
	case string:
		switch v {
		case "unknown":
			events = Step(e, a, Signal{Subject: "fridge alder", At: at, State: Unknown}, next)
		case "over":
			events = Step(e, a, Signal{Subject: "fridge alder", At: at, State: Over}, next)
		case "tick":
			events = Tick(e, a, at)
		case "ack":
			events = Acknowledge(e, a, Answer{By: "T.V.", At: at})
		case "end":
			events = End(e, a, "T.V.", "weighed and discarded", at)
		case "shelf":
			if err := PutOnShelf(a, Shelf{By: "T.V.", Reason: "loading", Until: at.Add(3 * time.Hour)}, at); err != nil {
				t.Fatal(err)
			}
		}
	}
	words := []string{string(a.State())}
	for _, ev := range events {
		words = append(words, fmt.Sprintf("%s#%d", ev.Kind, ev.Number))
	}
	return strings.Join(words, " ")
}

func TestChains(t *testing.T) {
	never := warm()
	never.Clear = Clear{Never: true}
	answered := warm()
	answered.Clear = Clear{Never: true, ByAck: true}
	for name, c := range map[string]struct {
		entry Entry
		steps []step
	}{
		"normal=>pending=>active=>clearing=>normal": {warm(), []step{
			{0, 3, "normal"}, {1, 5, "pending"}, {5, 5, "pending"}, {10, 6, "pending"}, {11, 6, "active raised#1"},
			{12, 4.5, "active"}, {13, 4, "clearing"}, {17, 4, "clearing"}, {18, 3, "normal cleared#1"}, {19, 3, "normal"},
		}},
		"pending=>normal: a dip under the limit starts the on-delay afresh": {warm(), []step{
			{0, 6, "pending"}, {9, 6, "pending"}, {10, 4.9, "normal"}, {11, 6, "pending"}, {15, 6, "pending"}, {20, 6, "pending"},
			{21, 6, "active raised#1"},
		}},
		"clearing=>active: the deadband interrupts the off-delay": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {3, 4, "clearing"}, {6, 4.2, "active"}, {7, 4, "clearing"},
			{11, 4, "clearing"}, {12, 4, "normal cleared#1"},
		}},
		"deadband never starts": {warm(), []step{
			{0, 4.5, "normal"}, {5, 4.9, "normal"}, {10, 4.9, "normal"}, {15, 4.9, "normal"}, {20, 4.9, "normal"},
		}},
		"pending=>active=>worsened: one number": {warm(), []step{
			{0, 6, "pending"}, {5, 6, "pending"}, {10, 6, "active raised#1"}, {11, 8, "active"}, {13, 9, "active worsened#1"},
			{14, 6, "active"}, {19, 6, "active"},
		}},
		"gap restarts the on-delay": {warm(), []step{
			{0, 6, "pending"}, {5, 6, "pending"}, {9, 6, "pending"}, {40, 6, "pending"}, {45, 6, "pending"}, {50, 6, "active raised#1"},
		}},
		"gap restarts the off-delay": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {3, 3, "clearing"}, {30, 3, "clearing"}, {35, 3, "normal cleared#1"},
		}},
		"unknown raises nothing and clears nothing": {warm(), []step{
			{0, 9, "pending"}, {1, "unknown", "pending"}, {2, "unknown", "pending"}, {3, "unknown", "pending"}, {4, 9, "active raised#1"},
			{5, 3, "clearing"}, {6, 3, "clearing"}, {7, 3, "clearing"}, {8, 3, "clearing"}, {9, "unknown", "clearing"}, {10, "tick", "clearing"},
			{11, "unknown", "clearing"}, {12, 3, "normal cleared#1"},
		}},
		"off-delay by the clock while the last value is fresh": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {3, 3, "clearing"}, {4, 3, "clearing"}, {5, 3, "clearing"},
			{7, "tick", "clearing"}, {8, "tick", "normal cleared#1"},
		}},
		"silence does not clear": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {3, 4.5, "active"}, {4, 4, "clearing"}, {40, "tick", "clearing"},
			{41, 4.5, "active"}, {62, "tick", "active repeated#1"},
		}},
		"over ends and forgets": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {3, "over", "normal cleared#1"}, {4, "over", "normal"},
			{5, 9, "pending"}, {7, 9, "active raised#2"},
		}},
		"over ends pending in silence": {warm(), []step{
			{0, 6, "pending"}, {9, 6, "pending"}, {9, "over", "normal"}, {10, 6, "pending"},
		}},
		"repeat until acknowledged, then re-alarm": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {61, "tick", "active"}, {62, "tick", "active repeated#1"},
			{63, "ack", "active acknowledged#1"}, {64, "ack", "active"}, {130, "tick", "active"}, {182, "tick", "active"},
			{183, "tick", "active re-alarmed#1"}, {243, "tick", "active repeated#1"},
		}},
		"after a long downtime asked once": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {1442, "tick", "active repeated#1"}, {1443, "tick", "active"},
		}},
		"worse needs a new answer": {warm(), []step{
			{0, 6, "pending"}, {5, 6, "pending"}, {10, 6, "active raised#1"}, {11, "ack", "active acknowledged#1"}, {12, 9, "active"},
			{14, 9, "active worsened#1"}, {74, "tick", "active repeated#1"},
		}},
		"no repeat while it is back inside": {warm(), []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {60, 3, "clearing"}, {62, 3, "clearing"}, {65, 3, "normal cleared#1"},
		}},
		"shelved: followed, and asked when the shelf ends": {warm(), []step{
			{0, "shelf", "normal"}, {1, 9, "pending"}, {3, 9, "active raised#1"}, {100, "tick", "active"},
			{179, "tick", "active"}, {180, "tick", "active re-alarmed#1"}, {240, "tick", "active repeated#1"},
		}},
		"raised as the shelf ends: asked once": {warm(), []step{
			{0, "shelf", "normal"}, {178, 9, "pending"}, {180, 9, "active raised#1"}, {181, 9, "active"},
		}},
		"never clears by a value, ends by a person, not raised again at once": {never, []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {3, 1, "active"}, {20, 1, "active"}, {21, 9, "active"},
			{22, "end", "pending cleared#1"}, {24, 9, "pending"}, {26, 9, "pending"}, {27, 1, "normal"}, {28, 9, "pending"}, {30, 9, "active raised#2"},
		}},
		"acknowledging is the answer": {answered, []step{
			{0, 9, "pending"}, {2, 9, "active raised#1"}, {3, "ack", "pending acknowledged#1 cleared#1"}, {4, 9, "pending"}, {6, 9, "pending"},
		}},
		"late data never ring": {warm(), []step{
			{10, 3, "normal"}, {5, 9, "normal"}, {8, 9, "normal"}, {11, 3, "normal"},
		}},
	} {
		t.Run(name, func(t *testing.T) { story(t, c.entry, c.steps) })
	}
}

func TestBelowChain(t *testing.T) {
	e := warm()
	e.Triggers = []Trigger{{Below: true, Limit: 1, For: 4 * time.Minute, Level: Tell}}
	e.Clear = Clear{Limit: 2, For: 2 * time.Minute}
	a := story(t, e, []step{
		{0, 1, "pending"}, {4, -3, "active raised#1"}, {5, 1.5, "active"}, {6, 2, "clearing"}, {8, 2, "normal cleared#1"},
	})
	if a.Latest.Worst != -3 {
		t.Errorf("worst = %v, want the lowest", a.Latest.Worst)
	}
}

// Three warm spells of 50 min are each shorter than the two hours, but not
// together: the story "Three Short Warms" of a tired fridge.
func TestSummedChain(t *testing.T) {
	e := catalogued(t, "C2")
	a, number := &Alarm{}, int64(0)
	next := func() int64 { number++; return number }
	var raised []time.Duration
	for minute := 0; minute < 48*60; minute += 5 {
		value := 4.0
		if minute%360 < 50 {
			value = 5.4
		}
		at := noon.Add(time.Duration(minute) * time.Minute)
		for _, ev := range Step(e, a, Signal{Subject: "fridge alder", At: at, Value: value}, next) {
			if ev.Kind == Raised {
				raised = append(raised, at.Sub(noon))
				if !strings.HasPrefix(ev.Reason, "beyond its limit for ") || ev.Summed < 2*time.Hour || ev.Window != 24*time.Hour {
					t.Errorf("reason = %q", ev.Reason)
				}
			}
		}
	}
	// 100 min in the first two spells, 20 more in the third. That has rung; the window
	// keeps it, and the next comes with the second hour of new warmth: 50 min and 10.
	want := []time.Duration{12*time.Hour + 20*time.Minute, 24*time.Hour + 10*time.Minute, 36*time.Hour + 10*time.Minute}
	if !slices.Equal(raised, want) {
		t.Errorf("raised at %v, want %v", raised, want)
	}
}

// A pause of the summed time longer than the window is forgotten.
func TestSummedTimeLeavesTheWindow(t *testing.T) {
	s := &Sustained{}
	for i := range 200 {
		from := noon.Add(time.Duration(i) * time.Hour)
		s.add(Piece{From: from, To: from.Add(10 * time.Minute)})
		s.forget(from.Add(10*time.Minute - 24*time.Hour))
		if want := min(time.Duration(i+1), 25) * 10 * time.Minute; s.sum() > want || i > 24 && s.sum() < 240*time.Minute {
			t.Fatalf("hour %d: sum %s, want at most %s", i, s.sum(), want)
		}
	}
}

func TestPiecesAreBounded(t *testing.T) {
	s := &Sustained{}
	for i := range 1000 {
		from := noon.Add(time.Duration(i) * time.Minute)
		s.add(Piece{From: from, To: from.Add(20 * time.Second)})
		if len(s.Pieces) > maxPieces {
			t.Fatalf("%d pieces", len(s.Pieces))
		}
	}
	if want := 1000 * 20 * time.Second; s.sum() != want {
		t.Errorf("sum = %s, want %s: joining must lose nothing", s.sum(), want)
	}
}

// A gap whose two ends are both beyond the limit counts for the sum, one with a
// good end does not.
func TestSummedGap(t *testing.T) {
	e := catalogued(t, "C2")
	for _, c := range []struct {
		after float64
		want  time.Duration
	}{{5.5, 190 * time.Minute}, {4.9, 10 * time.Minute}} {
		a := &Alarm{}
		for _, s := range []struct {
			minute int
			value  float64
		}{{0, 5.5}, {5, 5.5}, {10, 5.5}, {190, c.after}} {
			Step(e, a, Signal{At: noon.Add(time.Duration(s.minute) * time.Minute), Value: s.value}, func() int64 { return 1 })
		}
		if got := a.Condition.Triggers[0].sum(); got != c.want {
			t.Errorf("after %v: sum = %s, want %s", c.after, got, c.want)
		}
	}
}

// A probe that is set to publish less often must still be able to raise.
func TestSlowerProbeStillRaises(t *testing.T) {
	for _, spacing := range []time.Duration{10 * time.Second, time.Minute, 10 * time.Minute, 30 * time.Minute} {
		e, a, at := catalogued(t, "C1"), &Alarm{}, noon
		for range 100 {
			at = at.Add(10 * time.Second)
			Step(e, a, Signal{At: at, Value: 3}, nil)
		}
		raised := time.Time{}
		for began := at; raised.IsZero() && at.Sub(began) < 6*time.Hour; {
			at = at.Add(spacing)
			Step(e, a, Signal{At: at, Value: 6}, func() int64 { raised = at; return 1 })
		}
		if raised.IsZero() {
			t.Errorf("every %s: not raised in 6 h", spacing)
		}
	}
}

func TestEventsTellTheWholeStory(t *testing.T) {
	e, a := warm(), &Alarm{}
	number := func() int64 { return 17 }
	at := func(minute int) time.Time { return noon.Add(time.Duration(minute) * time.Minute) }
	signal := func(minute int, v float64) []Event {
		return Step(e, a, Signal{Subject: "fridge alder", At: at(minute), Value: v}, number)
	}
	signal(0, 7)
	signal(5, 5.5)
	ev := signal(10, 6)[0]
	if ev.Since != at(0) || ev.Value != 6 || ev.Worst != 7 || ev.Limit != 5 || ev.Level != Tell || ev.Action != "look" || ev.Subject != "fridge alder" {
		t.Errorf("raised = %+v", ev)
	}
	if o := ev.Occurrence; !o.Active || o.Number != 17 || o.RaisedAt != at(10) || o.Title != "Warm" {
		t.Errorf("occurrence = %+v", o)
	}
	if ev = Acknowledge(e, a, Answer{By: "T.V.", At: at(11)})[0]; ev.By != "T.V." || ev.Occurrence.AcknowledgedAt != at(11) {
		t.Errorf("acknowledged = %+v", ev)
	}
	signal(12, 3)
	ev = signal(17, 2)[0]
	if o := ev.Occurrence; ev.Kind != Cleared || o.Active || o.ClearedAt != at(17) || o.Worst != 7 || o.AcknowledgedBy != "T.V." || o.Value != 2 {
		t.Errorf("cleared = %+v", ev)
	}
}

func TestShelfNeedsAnOwnerAReasonAndAnEnd(t *testing.T) {
	for name, s := range map[string]Shelf{
		"no owner":  {Reason: "loading", Until: noon.Add(time.Hour)},
		"no reason": {By: "T.V.", Until: noon.Add(time.Hour)},
		"no end":    {By: "T.V.", Reason: "loading"},
		"past end":  {By: "T.V.", Reason: "loading", Until: noon},
		"too long":  {By: "T.V.", Reason: "loading", Until: noon.Add(25 * time.Hour)},
	} {
		a := &Alarm{}
		if err := PutOnShelf(a, s, noon); err == nil || a.Shelf != (Shelf{}) {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestSteadyStateDoesNotAllocate(t *testing.T) {
	for _, e := range Catalogue(Wood) {
		for name, value := range map[string]float64{"normal": e.Clear.Limit, "standing": e.Triggers[0].Limit} {
			if e.Clear.Never && name == "normal" {
				value = e.Triggers[0].Limit - 1
			}
			a, at := &Alarm{}, noon
			once := func() {
				at = at.Add(10 * time.Second)
				Step(e, a, Signal{Subject: "s", At: at, Value: value}, func() int64 { return 1 })
				Acknowledge(e, a, Answer{By: "T.V.", At: at})
				Deadline(e, a)
			}
			for range 7 * 360 {
				once()
			}
			a.Latest.AcknowledgedAt = at // no re-alarm in what follows
			if n := testing.AllocsPerRun(100, once); n != 0 {
				t.Errorf("%s, %s: %v allocations for a sample", e.ID, name, n)
			}
		}
	}
}
