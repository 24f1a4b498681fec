package store

import (
	"path/filepath"
	"testing"
	"time"

	"flitch/alerts"
)

func pocket(endpoint string) Phone {
	return Phone{Channel: "pocket", Person: "T.V.", Name: "grey phone", Endpoint: endpoint,
		Public: []byte{4, 1, 2}, Secret: []byte{9}, Added: noon}
}

func add(t *testing.T, db *DB, p Phone) (id int64) {
	t.Helper()
	err := db.Update(func(tx *Tx) (err error) {
		id, err = tx.AddPhone(p)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func ringing(t *testing.T, db *DB, channel string) (ids []int64) {
	t.Helper()
	err := db.Update(func(tx *Tx) (err error) {
		ids, err = tx.PhonesOf(channel)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return ids
}

func end(t *testing.T, db *DB, id int64) (ended bool) {
	t.Helper()
	err := db.Update(func(tx *Tx) (err error) {
		ended, err = tx.EndPhone(id, noon.Add(time.Hour), "answered 410 Gone")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return ended
}

func TestPhonesAreKept(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	first := add(t, db, pocket("https://push.example/a"))
	second := add(t, db, pocket("https://push.example/b"))
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = open(t, path)
	all := must[[]Phone](t)(db.Phones())
	if len(all) != 2 || all[0].ID != first || all[1].ID != second {
		t.Fatalf("phones %+v", all)
	}
	got, want := all[0], pocket("https://push.example/a")
	if got.Channel != want.Channel || got.Person != want.Person || got.Name != want.Name || got.Endpoint != want.Endpoint ||
		string(got.Public) != string(want.Public) || string(got.Secret) != string(want.Secret) || !got.Added.Equal(noon) || !got.Ended.IsZero() {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if ids := ringing(t, db, "pocket"); len(ids) != 2 {
		t.Errorf("ringing %v, want both", ids)
	}
	if ids := ringing(t, db, "other"); len(ids) != 0 {
		t.Errorf("of another channel: %v", ids)
	}
}

// A phone that has ended stays on the list and rings no more, until it asks again.
func TestAPhoneEndsAndComesBack(t *testing.T) {
	db := newDB(t)
	id := add(t, db, pocket("https://push.example/a"))
	if !end(t, db, id) || end(t, db, id) || end(t, db, id+7) {
		t.Error("a phone ends once")
	}
	all := must[[]Phone](t)(db.Phones())
	if len(all) != 1 || !all[0].Ended.Equal(noon.Add(time.Hour)) || all[0].Why != "answered 410 Gone" {
		t.Errorf("phones %+v", all)
	}
	if ids := ringing(t, db, "pocket"); len(ids) != 0 {
		t.Errorf("ringing %v, want none", ids)
	}
	again := pocket("https://push.example/a")
	again.Secret = []byte{8}
	if got := add(t, db, again); got != id {
		t.Errorf("the same browser became phone %d, want %d", got, id)
	}
	all = must[[]Phone](t)(db.Phones())
	if len(all) != 1 || !all[0].Ended.IsZero() || all[0].Why != "" || all[0].Secret[0] != 8 {
		t.Errorf("phones %+v, want one that rings with its new keys", all)
	}
}

// What waits for a removed phone is given up, nothing else is, and its number is
// never given to another.
func TestAPhoneIsRemoved(t *testing.T) {
	db := newDB(t)
	id := add(t, db, pocket("https://push.example/a"))
	var waiting, other int64
	var gone Phone
	err := db.Update(func(tx *Tx) (err error) {
		if waiting, err = tx.Enqueue(alerts.Message{Alarm: 1, Channel: "pocket/1", Due: noon}); err != nil {
			return err
		}
		if other, err = tx.Enqueue(alerts.Message{Alarm: 1, Channel: "pocket", Due: noon}); err != nil {
			return err
		}
		found := false
		if gone, found, err = tx.RemovePhone(id, "pocket/1", noon); !found {
			t.Error("the phone was not found")
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if gone.Channel != "pocket" || gone.Name != "grey phone" || gone.Person != "T.V." {
		t.Errorf("removed %+v", gone)
	}
	for _, m := range must[[]MessageRecord](t)(db.MessagesOf(1)) {
		want := map[int64]MessageStatus{waiting: MessageFailed, other: MessagePending}[m.ID]
		if m.Status != want {
			t.Errorf("message %d is %s, want %s", m.ID, m.Status, want)
		}
	}
	if next := add(t, db, pocket("https://push.example/b")); next == id {
		t.Errorf("number %d was given twice", id)
	}
	err = db.Update(func(tx *Tx) error {
		_, found, err := tx.RemovePhone(id, "pocket/1", noon)
		if found {
			t.Error("a phone was removed twice")
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// A database of the first schema opens, keeps its messages and takes phones.
func TestPhonesComeToAnOldDatabase(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	steps := must[[]string](t)(migrations())
	old := raw(t, path)
	if err := migrate(old, steps[:1]); err != nil {
		t.Fatal(err)
	}
	if _, err := old.Exec(`INSERT INTO messages (alarm, kind, entry, level, channel, subject, body, due, next_at, status)
		VALUES (7, 'raised', 'H3', 3, 'pocket', 's', 'b', 1, 1, 'pending')`); err != nil {
		t.Fatal(err)
	}
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	db := open(t, path)
	if kept := must[[]MessageRecord](t)(db.MessagesOf(7)); len(kept) != 1 {
		t.Errorf("messages %+v, want the one of before", kept)
	}
	add(t, db, pocket("https://push.example/a"))
}
