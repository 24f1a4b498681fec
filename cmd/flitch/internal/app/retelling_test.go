package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/process"
	"flitch/process/engine"
	"flitch/process/evidence"
	"flitch/store"
)

// A story is all that the engine wrote, by name: what a person may see of it.
type story map[string]string

func (s story) add(name string, v any) {
	text, err := json.Marshal(v)
	if err != nil {
		text = []byte(err.Error())
	}
	s[name] = string(text)
}

// compareStories returns where two stories differ.
func compareStories(stored, retold story) (faults []string) {
	for name, text := range retold {
		if was, ok := stored[name]; !ok || was != text {
			was, text = apart(was, text)
			faults = append(faults, fmt.Sprintf("%s\n  stored: %s\n  retold: %s", name, was, text))
		}
	}
	for name, text := range stored {
		if _, ok := retold[name]; !ok {
			faults = append(faults, fmt.Sprintf("%s\n  stored: %s\n  not retold", name, text))
		}
	}
	slices.Sort(faults)
	return faults
}

// apart cuts two texts down to where they begin to differ.
func apart(a, b string) (string, string) {
	const before, after = 60, 140
	at := 0
	for at < min(len(a), len(b)) && a[at] == b[at] {
		at++
	}
	cut := func(s string) string { return s[max(0, at-before):min(len(s), at+after)] }
	return cut(a), cut(b)
}

// A retelling is the stored log, read by an engine that was never killed and has
// nothing else to go by. What that engine writes is kept in memory.
type retelling struct {
	engineStore
	told          story
	lines, queued int
}

func (r *retelling) Load() (engine.Saved, error)           { return engine.Saved{}, nil }
func (r *retelling) Update(fn func(engine.Tx) error) error { return fn(r) }
func (r *retelling) AppendTick(time.Time) (int64, error)   { return 0, errAdded }
func (r *retelling) AppendCommand(process.Command, time.Time) (int64, bool, error) {
	return 0, false, errAdded
}

func (r *retelling) SavePhoto([]byte, time.Time) error { return errAdded }

// StoredBatch is a batch as it was told so far, not as the database has it in the end.
func (r *retelling) StoredBatch(id string) (engine.BatchRow, bool, error) {
	state, found := r.told["batch "+id]
	return engine.BatchRow{ID: id, State: []byte(state)}, found, nil
}

var errAdded = errors.New("a story that is told again has nothing new in it")

func (r *retelling) SaveBatch(b engine.BatchRow) error {
	r.told["batch "+b.ID] = string(b.State) // its cursor says when it was written, which is chance
	return nil
}

func (r *retelling) SavePlace(name string, _ int64, state []byte) error {
	r.told["place "+name] = heardOf(state)
	return nil
}

func (r *retelling) SaveAlarm(key string, state []byte) error {
	r.told["alarm "+key] = string(state)
	return nil
}

func (r *retelling) SaveOccurrence(o alerts.Occurrence) error {
	r.told.add(fmt.Sprintf("occurrence %d", o.Number), o)
	return nil
}

func (r *retelling) Enqueue(m alerts.Message) error {
	r.queued++
	m.ID = int64(r.queued)
	r.told.add(fmt.Sprintf("message %d", r.queued), m)
	return nil
}

func (r *retelling) AppendJournal(l process.JournalLine) error {
	r.lines += tell(r.told, r.lines, l)
	return nil
}

// tell adds a line and counts it. Verdicts are looked at once for each pass over
// the log, and where a pass ends is chance: the clocks are compared instead. Seals are made
// when ten minutes have passed. That a probe was added is not of the log.
func tell(s story, n int, l process.JournalLine) int {
	if l.Kind == "verdict" || l.Kind == "probe added" || l.Kind == evidence.SealKind || l.Kind == evidence.KeyKind {
		return 0
	}
	s.add(fmt.Sprintf("journal %d", n+1), []any{l.At, l.Batch, l.Kind, l.By, l.Text})
	return 1
}

// heardOf leaves out of a place when the daemon first began to listen to a probe
// that never spoke: that is no part of the log.
func heardOf(state []byte) string {
	var p process.Place
	if err := json.Unmarshal(state, &p); err != nil || p.Name == "" {
		return string(state) // the engine's own
	}
	for i := range p.Probes {
		if p.Probes[i].GoodRun == 0 {
			p.Probes[i].Heard = time.Time{}
		}
	}
	text, err := json.Marshal(p)
	if err != nil {
		return err.Error()
	}
	return string(text)
}

// retell tells the log from its first entry.
func retell(t *testing.T, db *store.DB, c *config.Config) story {
	t.Helper()
	first, err := db.NextInputs(0, 1)
	if err != nil || len(first) == 0 {
		t.Fatalf("no log: %v", err)
	}
	r := &retelling{engineStore: engineStore{DB: db}, told: story{}}
	e, err := engine.New(engine.Config{Store: r, Clock: NewStepped(first[0].At), Log: slog.New(slog.DiscardHandler),
		Places: places(c, first[0].At), Catalogue: catalogue(c), Policy: policy(c)})
	if err != nil {
		t.Fatal(err)
	}
	over, stop := context.WithCancel(context.Background())
	stop() // to the end of the log, and no further
	if err := e.Run(over); err != nil {
		t.Fatal(err)
	}
	return r.told
}

// written is the story that the database holds.
func written(t *testing.T, db *store.DB) story {
	t.Helper()
	s := story{}
	saved, err := engineStore{DB: db}.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range saved.Batches {
		s["batch "+b.ID] = string(b.State)
	}
	for _, p := range saved.Places {
		s["place "+p.Name] = heardOf(p.State)
	}
	for key, state := range saved.Alarms {
		s["alarm "+key] = string(state)
	}
	lines, err := db.Journal("")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, l := range lines {
		n += tell(s, n, l)
	}
	for _, o := range occurrences(t, db) {
		s.add(fmt.Sprintf("occurrence %d", o.Number), o)
	}
	for _, m := range messages(t, db) {
		s.add(fmt.Sprintf("message %d", m.ID), m.Message)
	}
	return s
}

// occurrences lists all alarms, the first one first.
func occurrences(t *testing.T, db *store.DB) []alerts.Occurrence {
	t.Helper()
	list, err := db.Occurrences(store.OccurrenceFilter{})
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(list)
	return list
}

// messages lists what was to be sent about any alarm.
func messages(t *testing.T, db *store.DB) (all []store.MessageRecord) {
	t.Helper()
	last, err := db.LastAlarmNumber()
	if err != nil {
		t.Fatal(err)
	}
	for number := range last + 1 {
		of, err := db.MessagesOf(number)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, of...)
	}
	return all
}
