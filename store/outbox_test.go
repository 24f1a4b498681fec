package store

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"flitch/alerts"
)

func minute(m int) time.Time { return noon.Add(time.Duration(m) * time.Minute) }

func message(alarm int64, channel string, due int) alerts.Message {
	return alerts.Message{Alarm: alarm, Kind: alerts.Raised, Entry: "C1", Level: alerts.Ring, Channel: channel,
		Subject: "Fridge alder 8.2 °C", Body: "Close the door.", Due: minute(due)}
}

// enqueue stores the messages and gives them their numbers.
func enqueue(t *testing.T, db *DB, messages ...alerts.Message) []alerts.Message {
	t.Helper()
	update(t, db, func(tx *Tx) error {
		for i := range messages {
			id, err := tx.Enqueue(messages[i])
			if err != nil {
				return err
			}
			messages[i].ID = id
		}
		return nil
	})
	return messages
}

func due(t *testing.T, db *DB, channel string, at time.Time) []alerts.QueuedMessage {
	t.Helper()
	return must[[]alerts.QueuedMessage](t)(db.DueMessages(channel, at, 100))
}

func begin(t *testing.T, db *DB, id int64, at time.Time) {
	t.Helper()
	if err := db.BeginAttempt(id, at); err != nil {
		t.Fatal(err)
	}
}

func settle(t *testing.T, db *DB, s alerts.Settlement) {
	t.Helper()
	if err := db.Settle(s); err != nil {
		t.Fatal(err)
	}
}

func TestDueMessagesAreInOrder(t *testing.T) {
	db := newDB(t)
	m := enqueue(t, db, message(1, "phone", 5), message(2, "phone", 1), message(3, "mail", 0), message(4, "phone", 1), message(5, "phone", 9))
	want := []alerts.QueuedMessage{{Message: m[1]}, {Message: m[3]}, {Message: m[0]}}
	if got := due(t, db, "phone", minute(5)); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if got := must[[]alerts.QueuedMessage](t)(db.DueMessages("phone", minute(5), 1)); !reflect.DeepEqual(got, want[:1]) {
		t.Errorf("first: %+v", got)
	}
	if got := due(t, db, "phone", minute(1).Add(-time.Millisecond)); len(got) != 0 {
		t.Errorf("too early: %+v", got)
	}
	if at, ok, err := db.NextDue("phone"); err != nil || !ok || !at.Equal(minute(1)) {
		t.Errorf("NextDue %v, %v, %v, want 12:01", at, ok, err)
	}
	if at, ok, err := db.NextDue("pager"); err != nil || ok {
		t.Errorf("NextDue of an unknown channel: %v, %v, %v", at, ok, err)
	}
	if at, ok, err := db.OldestDue(minute(5)); err != nil || !ok || !at.Equal(minute(0)) {
		t.Errorf("OldestDue %v, %v, %v, want 12:00", at, ok, err)
	}
	if at, ok, err := db.OldestDue(minute(-1)); err != nil || ok {
		t.Errorf("OldestDue before all: %v, %v, %v", at, ok, err)
	}
}

func TestRetryWaitsAndDeliveryEnds(t *testing.T) {
	db := newDB(t)
	id := enqueue(t, db, message(1, "phone", 0))[0].ID
	begin(t, db, id, minute(0))
	settle(t, db, alerts.Settlement{Message: id, Outcome: alerts.RetryAt, At: minute(1), NextAt: minute(4), Error: "503"})
	if got := due(t, db, "phone", minute(3)); len(got) != 0 {
		t.Errorf("before its time: %+v", got)
	}
	if at, ok, _ := db.NextDue("phone"); !ok || !at.Equal(minute(4)) {
		t.Errorf("NextDue %v, %v, want 12:04", at, ok)
	}
	if got := due(t, db, "phone", minute(4)); len(got) != 1 || got[0].Attempts != 1 || got[0].Unfinished {
		t.Errorf("at its time: %+v, want one finished attempt", got)
	}
	begin(t, db, id, minute(4))
	settle(t, db, alerts.Settlement{Message: id, Outcome: alerts.Delivered, At: minute(5), Receipt: "id 77"})
	if got := due(t, db, "phone", minute(60)); len(got) != 0 {
		t.Errorf("after delivery: %+v", got)
	}
	if _, ok, _ := db.NextDue("phone"); ok {
		t.Error("NextDue after delivery")
	}
	if err := db.BeginAttempt(id, minute(6)); err == nil {
		t.Error("a delivered message may be sent again")
	}
	settle(t, db, alerts.Settlement{Message: id, Outcome: alerts.RetryAt, At: minute(7), NextAt: minute(8)}) // a late answer
	if got := due(t, db, "phone", minute(60)); len(got) != 0 {
		t.Errorf("a late answer called it back: %+v", got)
	}
}

// TestCrashBetweenSendAndAnswerIsKnown reopens the database with an attempt open.
func TestCrashBetweenSendAndAnswerIsKnown(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	m := enqueue(t, db, message(1, "phone", 0))[0]
	begin(t, db, m.ID, minute(0))
	db.Close()
	db = open(t, path)
	if got := due(t, db, "phone", minute(1)); !reflect.DeepEqual(got, []alerts.QueuedMessage{{Message: m, Attempts: 1, Unfinished: true}}) {
		t.Fatalf("after the crash: %+v", got)
	}
	begin(t, db, m.ID, minute(1))
	settle(t, db, alerts.Settlement{Message: m.ID, Outcome: alerts.RetryAt, At: minute(2), NextAt: minute(2)})
	if got := due(t, db, "phone", minute(2)); len(got) != 1 || got[0].Attempts != 2 || !got[0].Unfinished {
		t.Errorf("the open attempt was forgotten: %+v", got)
	}
	begin(t, db, m.ID, minute(2))
	settle(t, db, alerts.Settlement{Message: m.ID, Outcome: alerts.Delivered, At: minute(3), Receipt: "ok"})

	want := []MessageRecord{{Message: m, Status: MessageDelivered, Attempts: []Attempt{
		{Began: minute(0)},
		{Began: minute(1), Ended: minute(2), Outcome: alerts.RetryAt},
		{Began: minute(2), Ended: minute(3), Outcome: alerts.Delivered, Receipt: "ok"},
	}}}
	if got := must[[]MessageRecord](t)(db.MessagesOf(1)); !reflect.DeepEqual(got, want) {
		t.Errorf("record:\n got %+v\nwant %+v", got, want)
	}
}

func TestMessagesOfAnAlarm(t *testing.T) {
	db := newDB(t)
	m := enqueue(t, db, message(1, "phone", 0), message(2, "phone", 0), message(1, "mail", 0), message(1, "pager", 0))
	// Given up without an attempt, as when it is merged into another.
	settle(t, db, alerts.Settlement{Message: m[2].ID, Outcome: alerts.Failed, At: minute(9), Error: "merged into message 1"})
	want := []MessageRecord{
		{Message: m[0], Status: MessagePending},
		{Message: m[2], Status: MessageFailed, Attempts: []Attempt{
			{Began: minute(9), Ended: minute(9), Outcome: alerts.Failed, Error: "merged into message 1"}}},
		{Message: m[3], Status: MessagePending},
	}
	if got := must[[]MessageRecord](t)(db.MessagesOf(1)); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if got := must[[]MessageRecord](t)(db.MessagesOf(99)); len(got) != 0 {
		t.Errorf("of an unknown alarm: %+v", got)
	}
}

func TestUnknownMessage(t *testing.T) {
	db := newDB(t)
	id := enqueue(t, db, message(1, "phone", 0))[0].ID
	if err := db.BeginAttempt(id+1, noon); err == nil {
		t.Error("BeginAttempt: no error")
	}
	if err := db.Settle(alerts.Settlement{Message: id + 1, Outcome: alerts.Delivered}); err == nil {
		t.Error("Settle: no error")
	}
	if err := db.Settle(alerts.Settlement{Message: id, Outcome: "perhaps"}); err == nil {
		t.Error("unknown outcome: no error")
	}
	if n := count(t, db, "attempts"); n != 0 {
		t.Errorf("%d attempts were stored", n)
	}
}

// What says the same is known by its alarm, event and time, and where there is no alarm by
// its first line too.
func TestMessagesAlike(t *testing.T) {
	db := newDB(t)
	m := message(7, "tv", 1)
	other, later, event := message(7, "mail", 1), message(7, "tv", 2), message(7, "tv", 1)
	other.Subject, event.Kind = "by mail", alerts.Repeated
	free, stranger := message(0, "tv", 1), message(0, "tv", 1)
	stranger.Subject = "Checks"
	enqueue(t, db, m, other, later, event, message(8, "red", 1), free, stranger)
	update(t, db, func(tx *Tx) error {
		for _, c := range []struct {
			of   alerts.Message
			want []string
		}{{m, []string{"tv", "mail"}}, {message(8, "", 1), []string{"red"}}, {free, []string{"tv"}}, {message(9, "tv", 1), nil}} {
			all, err := tx.Alike(c.of)
			var got []string
			for _, one := range all {
				got = append(got, one.Channel)
			}
			if !slices.Equal(got, c.want) || err != nil {
				t.Errorf("alike of %+v: %q, %v, want %q", c.of, got, err, c.want)
			}
		}
		return nil
	})
}
