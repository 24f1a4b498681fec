package outbox

import (
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// A phone that comes while the loop runs gets what is stored for it; one that is
// shut gets nothing more, and holds up neither the others nor the stop.
func TestChannelsComeAndGo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, first, late := newBench(t), newPhone("pocket"), newPhone("late")
		defer b.close()
		b.start(first)
		m := ring(1)
		m.Channel = "late"
		b.enqueue(m)
		b.pass(time.Minute)
		if err := b.box.Open(late); err != nil {
			t.Fatal(err)
		}
		if err := b.box.Open(newPhone("late")); err == nil {
			t.Error("a second channel of the same name was taken")
		}
		b.pass(time.Second)
		if n := len(late.got()); n != 1 {
			t.Errorf("the new phone has %d messages, want the one that waited", n)
		}
		if names := b.box.Names(); !slices.Equal(names, []string{"late", "pocket"}) {
			t.Errorf("open are %v", names)
		}
		b.box.Shut("late")
		b.box.Shut("nobody")
		m.Alarm = 2
		ids := b.enqueue(m, ring(3))
		b.pass(time.Hour)
		if n := len(late.got()); n != 1 {
			t.Errorf("the phone that was shut has %d messages, want 1", n)
		}
		if n := len(first.got()); n != 1 {
			t.Errorf("the other phone has %d messages, want 1", n)
		}
		if r := b.record(2, ids[0]); len(r.Attempts) != 0 {
			t.Errorf("record %+v, want no attempt", r)
		}
	})
}

// Shutting cuts off a send under way and does not wait for its deadline.
func TestShuttingCutsOffASend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket")
		p.hold = make(chan struct{})
		defer b.close()
		b.start(p)
		ids := b.enqueue(ring(1))
		b.pass(time.Second)
		began := time.Now()
		b.box.Shut("pocket")
		if took := time.Since(began); took > 0 {
			t.Errorf("took %s", took)
		}
		if r := b.record(1, ids[0]); len(r.Attempts) != 1 || !r.Attempts[0].Ended.IsZero() {
			t.Errorf("record %+v, want one attempt without an end", r)
		}
	})
}

func TestAChannelOpenedBeforeTheLoopRuns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		defer b.close()
		box, err := New(b.shelf, wallClock{}, nil, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := box.Open(newPhone("pocket")); err != nil {
			t.Fatal(err)
		}
		box.Shut("pocket") // not running yet: there is nothing to wait for
		if names := box.Names(); len(names) != 0 {
			t.Errorf("open are %v", names)
		}
	})
}
