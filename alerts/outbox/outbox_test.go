package outbox

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"flitch/alerts"
	"flitch/store"
)

func TestDeliveredOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket")
		defer b.close()
		b.start(p)
		later := tell(2)
		later.Due = time.Now().Add(3 * time.Hour)
		ids := b.enqueue(ring(1), later)
		b.pass(time.Hour)
		if got := p.got(); len(got) != 1 || got[0].after != 0 || got[0].Alarm != 1 || got[0].ID != ids[0] {
			t.Fatalf("after an hour the phone has %+v, want the ring at once and nothing else", got)
		}
		b.pass(12 * time.Hour)
		if got := p.got(); len(got) != 2 || got[1].after != 3*time.Hour {
			t.Fatalf("the phone has %+v, want the second message at its time", got)
		}
		if r := b.record(1, ids[0]); r.Status != store.MessageDelivered || len(r.Attempts) != 1 || r.Attempts[0].Receipt != "taken" {
			t.Errorf("record = %+v", r)
		}
	})
}

func TestTriedAgainWithGrowingPauses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket", busy, busy, busy, busy, nil)
		defer b.close()
		b.start(p)
		ids := b.enqueue(tell(1))
		b.pass(time.Hour)
		got := p.got()
		if len(got) != 5 {
			t.Fatalf("%d attempts, want 5", len(got))
		}
		for i, want := range []time.Duration{5 * time.Second, 10 * time.Second, 20 * time.Second, 40 * time.Second} {
			if pause := got[i+1].after - got[i].after; pause < want*7/8 || pause > want*9/8+time.Second {
				t.Errorf("pause %d is %s, want about %s", i+1, pause, want)
			}
			if got[i+1].Subject != got[0].Subject || got[i+1].Alarm != 1 {
				t.Errorf("attempt %d says %q of alarm %d", i+2, got[i+1].Subject, got[i+1].Alarm)
			}
		}
		if r := b.record(1, ids[0]); r.Status != store.MessageDelivered || len(r.Attempts) != 5 || r.Attempts[0].Error != busy.Text {
			t.Errorf("record = %+v", r)
		}
		if len(b.failures) != 0 {
			t.Errorf("failures = %+v, want none for a message that got through", b.failures)
		}
	})
}

// Once a way is back, what waited goes out at once and in its order.
func TestWhatWaitedGoesOutInOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket", busy)
		defer b.close()
		b.start(p)
		for alarm := range int64(5) {
			b.enqueue(tell(alarm + 1))
			b.pass(50 * time.Second) // so that each waits for a time of its own
		}
		p.mu.Lock()
		p.script, p.seen = nil, nil
		p.mu.Unlock()
		b.pass(10 * time.Minute)
		got := p.got()
		if len(got) != 5 {
			t.Fatalf("%d deliveries, want 5", len(got))
		}
		for i, m := range got[1:] {
			if m.after-got[0].after > time.Second {
				t.Errorf("alarm %d came %s after the first", m.Alarm, m.after-got[0].after)
			}
			if i > 0 && m.Alarm < got[i].Alarm {
				t.Errorf("alarm %d came after alarm %d", m.Alarm, got[i].Alarm)
			}
		}
	})
}

func TestWaitsAsLongAsItWasAskedTo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		p := newPhone("pocket", &alerts.SendError{Retry: true, After: 30 * time.Minute, Text: "429"}, nil)
		defer b.close()
		b.start(p)
		b.enqueue(tell(1))
		b.pass(time.Minute)
		b.enqueue(tell(2)) // the service asked for quiet
		b.pass(10 * time.Minute)
		if got := p.got(); len(got) != 1 {
			t.Fatalf("%d sends while the service had asked for quiet, want 1", len(got))
		}
		b.enqueue(ring(3)) // a ring does not wait for that
		b.pass(time.Second)
		if got := p.got(); len(got) != 2 || got[1].Alarm != 3 {
			t.Fatalf("the phone has %+v, want the ring", got)
		}
		b.pass(time.Hour)
		if got := p.got(); len(got) != 4 || got[2].after < 30*time.Minute || got[2].after > 31*time.Minute {
			t.Errorf("the phone has %+v, want the rest after 30 min", got)
		}
	})
}

func TestFinalRefusalIsReportedNotRepeated(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket", &alerts.SendError{Text: "answered 404 Not Found"})
		defer b.close()
		b.start(p)
		ids := b.enqueue(ring(7))
		b.pass(48 * time.Hour)
		if n := len(p.got()); n != 1 {
			t.Errorf("%d attempts, want 1", n)
		}
		if len(b.failures) != 1 || !b.failures[0].Final || b.failures[0].Message.Alarm != 7 || b.failures[0].Error != "answered 404 Not Found" {
			t.Errorf("failures = %+v", b.failures)
		}
		if r := b.record(7, ids[0]); r.Status != store.MessageFailed {
			t.Errorf("record = %+v", r)
		}
	})
}

// passOn stores the end of an attempt and what goes through the next way in one
// transaction, and counts how often.
func (b *bench) passOn(policy alerts.Policy, stored *int) func(alerts.Settlement, Failure) error {
	return func(s alerts.Settlement, f Failure) error {
		if err := b.shelf.faulty(); err != nil {
			return err
		}
		next, ok := policy.Redirect(f.Message, f.Error, func(string) bool { return false })
		if !ok {
			b.t.Error("no way is left")
		}
		err := b.db.Update(func(tx *store.Tx) error {
			if err := tx.Settle(s); err != nil {
				return err
			}
			_, err := tx.Enqueue(next)
			return err
		})
		if err == nil {
			*stored++
			b.box.Wake()
		}
		return err
	}
}

// The ring goes to the next channel when the first has failed for good, by way
// of the callback and the policy.
func TestFailedRingTakesTheNextWay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "pocket"}, {Name: "mail", Backup: true}}}
		b, pocket, mail := newBench(t), newPhone("pocket", &alerts.SendError{Text: "gone"}), newPhone("mail")
		defer b.close()
		stored := 0
		b.divert = b.passOn(policy, &stored)
		b.start(pocket, mail)
		b.enqueue(ring(7))
		b.pass(time.Minute)
		if got := mail.got(); len(got) != 1 || got[0].Alarm != 7 || got[0].after != 0 {
			t.Errorf("mail has %+v, want the ring at once with its number", got)
		}
	})
}

// While the disk refuses, a message that failed for good has no end yet: it goes the other
// way once the disk is back, and once. A ring is sent then, and told to have failed at once.
func TestAFailureThatCannotBeStoredTakesTheNextWayLater(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "pocket"}, {Name: "mail", Backup: true}}}
		b, pocket, mail := newBench(t), newPhone("pocket", &alerts.SendError{Text: "gone"}), newPhone("mail")
		defer b.close()
		stored := 0
		b.divert = b.passOn(policy, &stored)
		ids := b.enqueue(ring(7))
		b.shelf.fault(errors.New("disk full"))
		b.start(pocket, mail)
		b.pass(time.Hour)
		if r := b.record(7, ids[0]); r.Status != store.MessagePending || len(b.failures) != 1 || len(pocket.got()) != 1 {
			t.Fatalf("record = %+v, %d failures told, sent %d times", r, len(b.failures), len(pocket.got()))
		}
		b.shelf.fault(nil)
		b.pass(time.Minute)
		if got := mail.got(); len(got) != 1 || got[0].Alarm != 7 || stored != 1 {
			t.Errorf("mail has %+v, stored %d times", got, stored)
		}
		if r := b.record(7, ids[0]); r.Status != store.MessageFailed || len(pocket.got()) != 1 {
			t.Errorf("record = %+v, sent %d times", r, len(pocket.got()))
		}
	})
}

func TestLateRingIsReportedOnceAndTriedOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket", busy)
		defer b.close()
		b.start(p)
		ids := b.enqueue(ring(7), tell(8))
		b.pass(6 * time.Hour)
		if len(b.failures) != 1 || b.failures[0].Final || b.failures[0].Message.ID != ids[0] {
			t.Fatalf("failures = %+v, want one, of the ring, not final", b.failures)
		}
		if at := b.ends[0].At.Add(RingPatience); b.failures[0].Attempts > 6 {
			t.Errorf("reported after %d attempts, want about %s", b.failures[0].Attempts, at)
		}
		if n := len(p.got()); n < 100 {
			t.Errorf("%d attempts in 6 h, want one at least every 5 min for each message", n)
		}
		b.pass(20 * time.Hour)
		if r := b.record(7, ids[0]); r.Status != store.MessageFailed {
			t.Errorf("after 26 h the ring is %s, want given up", r.Status)
		}
		if n := len(b.failures); n != 3 || !b.failures[1].Final || !b.failures[2].Final {
			t.Errorf("failures = %+v, want a final one of each message too", b.failures)
		}
	})
}

// A slow phone holds up nobody else, and a ring goes before what was waiting.
func TestSlowChannelHoldsUpOnlyItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, slow, quick := newBench(t), newPhone("pocket"), newPhone("mail")
		slow.hold = make(chan struct{}) // says nothing until its deadline
		defer b.close()
		b.start(slow, quick)
		other := ring(1)
		other.Channel = "mail"
		b.enqueue(tell(1), tell(2), tell(3), other)
		b.pass(time.Second)
		if n := len(quick.got()); n != 1 {
			t.Errorf("the quick channel has %d, want 1 at once", n)
		}
		b.enqueue(ring(9))
		b.pass(15 * time.Second)
		if got := slow.got(); len(got) < 2 || got[1].Alarm != 9 || got[1].after != 10*time.Second {
			t.Errorf("the slow channel has %+v, want the ring second, after one deadline", got)
		}
	})
}

func TestStoppedWhileSendingMayRepeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket")
		p.hold = make(chan struct{})
		b.start(p)
		ids := b.enqueue(ring(5))
		b.pass(time.Second)
		b.stop()
		if r := b.record(5, ids[0]); r.Status != store.MessagePending || len(r.Attempts) != 1 || !r.Attempts[0].Ended.IsZero() {
			t.Errorf("record = %+v, want an attempt without an end", r)
		}
		b.close()
		b.stop = nil

		b.open() // as after a restart
		again := newPhone("pocket")
		b.start(again)
		defer b.close()
		b.pass(time.Second)
		got := again.got()
		if len(got) != 1 || got[0].Alarm != 5 || got[0].Subject != ring(5).Subject+" (may repeat)" {
			t.Fatalf("the phone has %+v, want the same alarm with a note", got)
		}
	})
}

// After hours of downtime one message goes out for each alarm, and no ring is
// lost behind something quieter.
func TestOldMessagesAreMerged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket")
		defer b.close()
		began := time.Now()
		var standing, over, fridge []int64
		for i := range 40 {
			at := began.Add(time.Duration(i) * 15 * time.Minute)
			for alarm, ids := range map[int64]*[]int64{1: &standing, 2: &over} {
				m := ring(alarm)
				m.Kind, m.Due = alerts.Repeated, at
				*ids = append(*ids, b.enqueue(m)...)
			}
			m := tell(3)
			m.Due = at
			fridge = append(fridge, b.enqueue(m)...)
		}
		cleared := tell(2)
		cleared.Kind, cleared.Due = alerts.Cleared, began.Add(10*time.Hour)
		over = append(over, b.enqueue(cleared)...)
		time.Sleep(12 * time.Hour)
		b.start(p)
		b.pass(time.Minute)
		got := map[int64][]int64{}
		for _, d := range p.got() {
			got[d.Alarm] = append(got[d.Alarm], d.ID)
		}
		for alarm, want := range map[int64][]int64{1: standing[39:], 2: over[39:], 3: fridge[39:]} {
			if len(got[alarm]) != len(want) || got[alarm][0] != want[0] || got[alarm][len(want)-1] != want[len(want)-1] {
				t.Errorf("alarm %d: messages %v went out, want %v", alarm, got[alarm], want)
			}
		}
		if r := b.record(1, standing[0]); r.Status != store.MessageFailed || len(r.Attempts) != 1 || r.Attempts[0].Error != "superseded by message "+itoa(standing[39]) {
			t.Errorf("record of the oldest = %+v", r)
		}
		if len(b.failures) != 0 {
			t.Errorf("failures = %+v, want none: the newest got through", b.failures)
		}
	})
}

func TestFreshMessagesAreNotMerged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket")
		defer b.close()
		b.enqueue(tell(1), tell(1), tell(1))
		b.start(p)
		b.pass(time.Second)
		if n := len(p.got()); n != 3 {
			t.Errorf("%d went out, want 3", n)
		}
	})
}

// While the disk refuses, a ring still goes out, once, and its end is stored
// when the disk is back.
func TestRingGoesOutThoughTheDiskRefuses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket")
		defer b.close()
		ids := b.enqueue(ring(1), tell(2))
		b.shelf.fault(errors.New("disk full"))
		b.start(p)
		b.pass(10 * time.Minute)
		if got := p.got(); len(got) != 1 || got[0].Alarm != 1 {
			t.Fatalf("the phone has %+v, want the ring once", got)
		}
		b.shelf.fault(nil)
		b.pass(10 * time.Second)
		if got := p.got(); len(got) != 2 || got[1].Alarm != 2 {
			t.Errorf("the phone has %+v, want the other message now", got)
		}
		if r := b.record(1, ids[0]); r.Status != store.MessageDelivered {
			t.Errorf("the ring is %s, want delivered", r.Status)
		}
	})
}

// A ring that a phone did not take is tried again though the disk refuses, ever later, and no more
// when it was taken.
func TestARingIsTriedAgainThoughTheDiskRefuses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket", busy, busy, nil)
		defer b.close()
		ids := b.enqueue(ring(1))
		b.shelf.fault(errors.New("disk full"))
		b.start(p)
		b.pass(time.Hour)
		if got := p.got(); len(got) != 3 || got[2].after-got[1].after < 8*time.Second {
			t.Fatalf("%d sends while the disk refuses, want 3, ever further apart: %+v", len(got), got)
		}
		b.shelf.fault(nil)
		b.pass(time.Hour)
		if got := p.got(); len(got) != 3 {
			t.Errorf("%d sends, and the third was taken", len(got))
		}
		if r := b.record(1, ids[0]); r.Status != store.MessageDelivered {
			t.Errorf("record = %+v", r)
		}
	})
}

// A ring that became late while the disk refused goes the next way when the disk is back, once, and is
// tried on at ever longer pauses meanwhile.
func TestALateRingTakesTheNextWayWhenTheDiskIsBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "pocket"}, {Name: "mail", Backup: true}}}
		b, pocket, mail := newBench(t), newPhone("pocket", slices.Repeat([]error{busy}, 500)...), newPhone("mail")
		defer b.close()
		stored := 0
		b.divert = b.passOn(policy, &stored)
		b.enqueue(ring(7))
		b.shelf.fault(errors.New("disk full"))
		b.start(pocket, mail)
		b.pass(15 * time.Minute)
		tried := len(pocket.got())
		if tried < 6 || tried > 12 || len(b.failures) != 1 || len(mail.got()) != 0 {
			t.Fatalf("tried %d times, failures %+v, mail has %d", tried, b.failures, len(mail.got()))
		}
		for _, m := range pocket.got() {
			if strings.Contains(m.Subject, "may repeat") {
				t.Errorf("a phone that refused is told %q", m.Subject)
			}
		}
		b.shelf.fault(nil)
		b.pass(6 * time.Hour)
		if got := mail.got(); len(got) != 1 || got[0].Alarm != 7 || stored != 1 || len(b.failures) != 1 {
			t.Errorf("mail has %+v, stored %d times, failures %+v", got, stored, b.failures)
		}
	})
}

func TestSendUnstored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := newBench(t), newPhone("pocket", busy)
		defer b.close()
		b.start(p)
		if err := b.box.SendUnstored(t.Context(), ring(1)); !errors.Is(err, busy) || len(p.got()) != 1 {
			t.Errorf("err = %v after %d sends, want the channel's error after one", err, len(p.got()))
		}
		m := ring(1)
		m.Channel = "attic"
		if err := b.box.SendUnstored(t.Context(), m); err == nil {
			t.Error("no error for a channel that is not there")
		}
	})
}

func TestNamesMustDiffer(t *testing.T) {
	if _, err := New(nil, wallClock{}, []Channel{newPhone("a"), newPhone("a")}, Options{}); err == nil {
		t.Error("two channels of one name were taken")
	}
}
