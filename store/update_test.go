package store

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// everything does one of each thing a transaction can do.
func everything(tx *Tx) error {
	_, _, err := tx.AppendCommand(command("c-9", "OL-9"), noon.Add(time.Hour))
	errs := []error{err}
	_, err = tx.AppendTick(noon.Add(2 * time.Hour))
	errs = append(errs, err,
		tx.SaveBatch(BatchRow{ID: "OL-9", Status: "open", Started: noon, Cursor: 2, State: []byte("state")}),
		tx.SavePlace("fridge alder", 2, []byte("cold")),
		tx.SaveAlarm("C1 fridge alder", []byte("active")),
		tx.SaveOccurrence(alerts.Occurrence{Number: 9, Active: true, RaisedAt: noon}),
		tx.AppendJournal(process.JournalLine{At: noon, Batch: "OL-9", Kind: "note", Text: "one"}))
	_, err = tx.Enqueue(alerts.Message{Alarm: 9, Channel: "phone", Due: noon})
	return errors.Join(append(errs, err)...)
}

// tables are all the tables that everything touches.
var tables = []string{"commands", "ticks", "batches", "places", "alarms", "occurrences", "journal", "messages"}

func TestUpdateIsAllOrNothing(t *testing.T) {
	stop := errors.New("stop")
	attempts := map[string]func(*Tx) error{
		"error": func(tx *Tx) error { return errors.Join(everything(tx), stop) },
		"panic": func(tx *Tx) error {
			if err := everything(tx); err != nil {
				return err
			}
			panic(stop)
		},
		"panic after rollback by SQLite": func(tx *Tx) error {
			if err := everything(tx); err != nil {
				return err
			}
			_, err := tx.tx.Exec("ROLLBACK")
			return errors.Join(err, stop)
		},
	}
	for name, fn := range attempts {
		t.Run(name, func(t *testing.T) {
			db := newDB(t)
			appendTick(t, db, noon)
			if err := updateOrPanic(db, fn); !errors.Is(err, stop) {
				t.Fatalf("got %v, want %v", err, stop)
			}
			for _, table := range tables {
				if n := count(t, db, table); n != 0 && table != "ticks" || n > 1 {
					t.Errorf("%d rows in %s", n, table)
				}
			}
			if db.LastSeq() != 1 || db.at != noon.UnixMilli() {
				t.Errorf("counter at %d, %d", db.LastSeq(), db.at)
			}
			update(t, db, everything) // and the writer is usable
			for _, table := range tables {
				if n := count(t, db, table); n == 0 {
					t.Errorf("no row in %s after a good update", table)
				}
			}
			if got := inputs(t, db); len(got) != 3 || got[2].Seq != 3 {
				t.Errorf("log after a good update: %+v", got)
			}
			if err := db.VerifyJournal(); err != nil {
				t.Error(err)
			}
		})
	}
}

func updateOrPanic(db *DB, fn func(*Tx) error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = p.(error)
		}
	}()
	return db.Update(fn)
}

// TestFailedCommitChangesNothing lets the commit itself fail, by a reference that
// is only checked there.
func TestFailedCommitChangesNothing(t *testing.T) {
	db := newDB(t)
	err := db.Update(func(tx *Tx) error {
		if err := everything(tx); err != nil {
			return err
		}
		if err := tx.exec("defer", "PRAGMA defer_foreign_keys = 1"); err != nil {
			return err
		}
		return tx.exec("break", "INSERT INTO attempts (message, began, outcome, receipt, error) VALUES (777, 0, '', '', '')")
	})
	if err == nil || !strings.Contains(err.Error(), "commit") {
		t.Fatalf("Update: %v, want the commit to fail", err)
	}
	if db.LastSeq() != 0 || count(t, db, "commands") != 0 {
		t.Errorf("counter at %d, %d commands", db.LastSeq(), count(t, db, "commands"))
	}
	update(t, db, everything)
}

// TestAppendOnly tries to rewrite history as a stranger with the driver would.
func TestAppendOnly(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	bad := plain("core", 1)
	bad.Quality = process.Bad
	commit(t, db, bad)
	update(t, db, everything)
	update(t, db, func(tx *Tx) error { return tx.AppendJournal(process.JournalLine{At: noon, Text: "two"}) })
	stranger := raw(t, path)
	before := fmt.Sprint(must[[]process.JournalLine](t)(db.Journal("")), inputs(t, db))
	for _, statement := range []string{
		"UPDATE journal SET text = 'x'",
		"UPDATE OR IGNORE journal SET hash = 'x' WHERE seq = 1",
		"DELETE FROM journal",
		"DELETE FROM journal WHERE seq = 2",
		"INSERT OR REPLACE INTO journal SELECT seq, at, batch, kind, by, 'x', prev, hash FROM journal WHERE seq = 1",
		"INSERT OR REPLACE INTO journal SELECT 3, at, batch, kind, by, 'x', prev, hash FROM journal WHERE seq = 1",
		"INSERT INTO journal VALUES (7, 0, '', '', '', '', '', 'a')",
		"UPDATE commands SET body = '{}'",
		"UPDATE commands SET batch = 'other'",
		"DELETE FROM commands",
		"INSERT OR REPLACE INTO commands SELECT seq, id, at, batch, '{}' FROM commands",
		"INSERT OR REPLACE INTO commands SELECT 99, id, at, batch, '{}' FROM commands",
		"INSERT INTO commands VALUES (99, 'c-99', 0, 'OL-9', 'not JSON')",
		"UPDATE readings SET value = 3",
		"UPDATE reading_marks SET quality = 0",
		"DELETE FROM readings",
		"DELETE FROM reading_marks",
		"INSERT INTO readings (seq, probe, measured, value, received) VALUES (1000, 1, 5, 'warm', 5)",
	} {
		if _, err := stranger.Exec(statement); err == nil {
			t.Errorf("no error: %s", statement)
		}
	}
	if after := fmt.Sprint(must[[]process.JournalLine](t)(db.Journal("")), inputs(t, db)); after != before {
		t.Errorf("history was changed:\n%s\n%s", before, after)
	}
}

func TestStatesAreKept(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	state := []byte{0, 0xff, '\'', 0}
	update(t, db, func(tx *Tx) error {
		return errors.Join(
			tx.SaveBatch(BatchRow{ID: "OL-2", Status: "open", Started: noon, Cursor: 7, State: []byte("early")}),
			tx.SaveBatch(BatchRow{ID: "OL-2", Status: "closed", Started: noon, Cursor: 8, State: state}),
			tx.SaveBatch(BatchRow{ID: "OL-1", Started: noon.Add(time.Hour)}),
			tx.SavePlace("smoker", 1, nil), tx.SavePlace("fridge", 1, nil), tx.SavePlace("fridge", 2, state),
			tx.SaveAlarm("a", []byte("early")), tx.SaveAlarm("a", state), tx.SaveAlarm("b", nil))
	})
	db.Close()
	db = open(t, path)
	batches := []BatchRow{
		{ID: "OL-2", Status: "closed", Started: noon, Cursor: 8, State: state},
		{ID: "OL-1", Started: noon.Add(time.Hour), State: []byte{}},
	}
	if got := must[[]BatchRow](t)(db.Batches()); !reflect.DeepEqual(got, batches) {
		t.Errorf("batches: %+v\nwant %+v", got, batches)
	}
	if got, ok, err := db.Batch("OL-2"); err != nil || !ok || !reflect.DeepEqual(got, batches[0]) {
		t.Errorf("batch OL-2: %+v, %v, %v", got, ok, err)
	}
	if got, ok, err := db.Batch("OL-3"); err != nil || ok {
		t.Errorf("batch OL-3: %+v, %v, %v, want none", got, ok, err)
	}
	places := []PlaceRow{{"fridge", 2, state}, {"smoker", 1, []byte{}}}
	if got := must[[]PlaceRow](t)(db.Places()); !reflect.DeepEqual(got, places) {
		t.Errorf("places: %+v, want %+v", got, places)
	}
	alarms := map[string][]byte{"a": state, "b": {}}
	if got := must[map[string][]byte](t)(db.Alarms()); !reflect.DeepEqual(got, alarms) {
		t.Errorf("alarms: %+v, want %+v", got, alarms)
	}
}

func TestOccurrences(t *testing.T) {
	db := newDB(t)
	if n := must[int64](t)(db.LastAlarmNumber()); n != 0 {
		t.Errorf("last number of an empty database is %d", n)
	}
	after := func(h int) time.Time { return noon.Add(time.Duration(h) * time.Hour) }
	first := alerts.Occurrence{Number: 1, Entry: "C1", Title: "Fridge warm", Subject: "fridge alder", Unit: "°C", Level: alerts.Ring,
		Since: after(0), RaisedAt: after(1), ClearedAt: after(3), AcknowledgedAt: after(2), AcknowledgedBy: "ok", Value: 4.9, Worst: 8.25, Limit: 5,
		Answers: []alerts.Answer{{At: after(2), By: "ok"}, {At: after(2).Add(time.Minute), By: "tv"}}}
	second := alerts.Occurrence{Number: 2, Entry: "K1", Subject: "batch OL-1", Level: alerts.Tell, Since: after(4), RaisedAt: after(5), Active: true}
	third := alerts.Occurrence{Number: 3, Entry: "C1", Subject: "fridge alder", Level: alerts.Tell, Since: after(6), RaisedAt: after(6), Active: true}
	update(t, db, func(tx *Tx) error {
		early := first
		early.ClearedAt, early.Active, early.Worst = time.Time{}, true, 6
		return errors.Join(tx.SaveOccurrence(early), tx.SaveOccurrence(second), tx.SaveOccurrence(third), tx.SaveOccurrence(first))
	})
	for _, c := range []struct {
		name   string
		filter OccurrenceFilter
		want   []alerts.Occurrence
	}{
		{"all", OccurrenceFilter{}, []alerts.Occurrence{third, second, first}},
		{"number", OccurrenceFilter{Number: 1}, []alerts.Occurrence{first}},
		{"active", OccurrenceFilter{Active: true}, []alerts.Occurrence{third, second}},
		{"subject", OccurrenceFilter{Subject: "fridge alder"}, []alerts.Occurrence{third, first}},
		{"newest", OccurrenceFilter{Limit: 1}, []alerts.Occurrence{third}},
		{"stood until", OccurrenceFilter{From: after(3)}, []alerts.Occurrence{third, second, first}},
		{"after it cleared", OccurrenceFilter{From: after(3).Add(time.Millisecond)}, []alerts.Occurrence{third, second}},
		{"before it was raised", OccurrenceFilter{To: after(5)}, []alerts.Occurrence{first}},
		{"both ends", OccurrenceFilter{From: after(4), To: after(6)}, []alerts.Occurrence{second}},
		{"none", OccurrenceFilter{Active: true, Subject: "nobody", Limit: 5}, nil},
	} {
		if got := must[[]alerts.Occurrence](t)(db.Occurrences(c.filter)); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\n got %+v\nwant %+v", c.name, got, c.want)
		}
	}
	if n := must[int64](t)(db.LastAlarmNumber()); n != 3 {
		t.Errorf("last number %d, want 3", n)
	}
	update(t, db, func(tx *Tx) error {
		_, err := tx.Enqueue(alerts.Message{Alarm: 12, Channel: "phone"})
		return err
	})
	if n := must[int64](t)(db.LastAlarmNumber()); n != 12 {
		t.Errorf("last number %d with a message about 12", n)
	}
}

func TestCounts(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(0, 20)...)
	update(t, db, everything)
	want := Counts{LastSeq: 22, Probes: 12, Commands: 1, JournalLines: 1, ActiveOccurrences: 1, PendingMessages: 1}
	if got := must[Counts](t)(db.Counts()); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}
