package app

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"
	"time"

	"flitch/process"
	"flitch/store"
)

// examine opens what is left after the kills and holds it against the promises.
func (s *slaughter) examine() {
	s.t.Helper()
	db, err := store.Open(s.spec.Database)
	if err != nil {
		s.t.Fatal(err)
	}
	defer db.Close()
	if err := db.Check(); err != nil {
		s.t.Errorf("integrity: %v", err)
	}
	if err := db.VerifyJournal(); err != nil {
		s.t.Errorf("journal: %v", err)
	}
	s.examineReadings(db)
	s.examineMessages(db)
	s.examineState(db)
}

func (s *slaughter) examineReadings(db *store.DB) {
	s.t.Helper()
	var rows []int64
	err := db.EachReading([]string{"core"}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error {
		rows = append(rows, r.Measured.UnixMilli())
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	// A sensor repeats itself only when its own broker dies; mosquitto does not.
	if len(s.sender.times) < kills*10 || s.spec.Outside == "" && s.sender.again == 0 {
		s.t.Errorf("%d readings, %d sent again: too few to prove anything", len(s.sender.times), s.sender.again)
	}
	for _, fault := range compareReadings(s.sender.times, rows) {
		s.t.Error(fault)
	}
}

// compareReadings holds the times that were acknowledged against the rows found.
func compareReadings(acked, rows []int64) []string {
	count := map[int64]int{}
	for _, at := range rows {
		count[at]++
	}
	var faults []string
	for n, at := range acked {
		if count[at] != 1 {
			faults = append(faults, fmt.Sprintf("reading %d was acknowledged and stands %d times", n, count[at]))
		}
		delete(count, at)
	}
	for at := range count {
		faults = append(faults, fmt.Sprintf("a row at %d that was never sent, or a repeat under another time", at))
	}
	return faults
}

// examineMessages: every occurrence has its raise delivered, with its own number,
// and nothing came more often than it was tried.
func (s *slaughter) examineMessages(db *store.DB) {
	s.t.Helper()
	occurrences, err := db.Occurrences(store.OccurrenceFilter{})
	if err != nil {
		s.t.Fatal(err)
	}
	if len(occurrences) < kills/20 {
		s.t.Errorf("only %d alarms: too few to prove anything", len(occurrences))
	}
	received := map[int64]int{}
	for _, m := range s.phone.all() {
		received[m.Message]++
	}
	var stored []store.MessageRecord
	for i, o := range occurrences { // newest first
		if want := int64(len(occurrences) - i); o.Number != want {
			s.t.Errorf("alarm %d has the number %d", want, o.Number)
		}
		if len(o.Answers) > 1 {
			s.t.Errorf("alarm %d was answered %d times by one command", o.Number, len(o.Answers))
		}
		messages, err := db.MessagesOf(o.Number)
		if err != nil {
			s.t.Fatal(err)
		}
		if len(messages) == 0 {
			s.t.Errorf("alarm %d (%s) was raised and nobody was to be told", o.Number, o.Entry)
		}
		stored = append(stored, messages...)
	}
	for _, fault := range compareMessages(stored, received, kills) {
		s.t.Error(fault)
	}
}

// compareMessages holds what was to be sent against what was received.
func compareMessages(stored []store.MessageRecord, received map[int64]int, killed int) []string {
	var faults []string
	repeats := 0
	for _, m := range stored {
		n := received[m.ID]
		if n == 0 {
			faults = append(faults, fmt.Sprintf("message %d of alarm %d (%s) was never received", m.ID, m.Alarm, m.Kind))
		}
		if n > max(1, len(m.Attempts)) {
			faults = append(faults, fmt.Sprintf("message %d came %d times in %d attempts", m.ID, n, len(m.Attempts)))
		}
		repeats += max(0, n-1)
	}
	if repeats > killed {
		faults = append(faults, fmt.Sprintf("%d repeats for %d kills", repeats, killed))
	}
	return faults
}

// examineState: everything is evaluated, and the state equals the log played
// again from its first entry.
func (s *slaughter) examineState(db *store.DB) {
	s.t.Helper()
	row, found, err := db.Batch("PS-02")
	if err != nil || !found {
		s.t.Fatalf("no batch: %v", err)
	}
	stored := new(process.Batch)
	if err := json.Unmarshal(row.State, stored); err != nil {
		s.t.Fatal(err)
	}
	saved, err := engineStore{db}.Load()
	if err != nil {
		s.t.Fatal(err)
	}
	cursor := int64(0)
	for _, p := range saved.Places {
		cursor = max(cursor, p.Cursor)
	}
	if last := db.LastSeq(); cursor != last {
		s.t.Errorf("evaluated up to %d, the log ends at %d", cursor, last)
	}
	replayed := replay(s.t, db)
	for i, c := range stored.Clocks(stored.Now) {
		if again := replayed.Clocks(stored.Now)[i]; again.Verdict != c.Verdict || math.Abs(again.Sum-c.Sum) > 1e-6 {
			s.t.Errorf("%s: %v %q stored, %v %q when played again", c.Name, c.Sum, c.Verdict, again.Sum, again.Verdict)
		}
	}
	if a, b := stored.Tracks, replayed.Tracks; len(a) != len(b) {
		s.t.Errorf("%d tracks stored, %d when played again", len(a), len(b))
	} else {
		for i := range a {
			if a[i].Samples != b[i].Samples || a[i].Last != b[i].Last {
				s.t.Errorf("%s: %d samples, last %v stored; %d, %v when played again", a[i].Probe.Probe, a[i].Samples, a[i].Last, b[i].Samples, b[i].Last)
			}
		}
	}
}

// replay is the whole log through Step, in its order.
func replay(t *testing.T, db *store.DB) *process.Batch {
	t.Helper()
	var b *process.Batch
	for after := int64(0); ; {
		inputs, err := db.NextInputs(after, 5000)
		if err != nil {
			t.Fatal(err)
		}
		if len(inputs) == 0 {
			return b
		}
		for _, in := range inputs {
			after = in.Seq
			switch {
			case in.Kind == process.InputCommand && in.Command.Kind == process.CommandNew:
				b = process.Start(in)
			case b != nil && (in.Kind != process.InputCommand || in.Command.Batch == b.ID):
				process.Step(b, in, nil)
			}
		}
	}
}

// The examiner itself must be able to find a loss.
func TestTheExaminerFindsLosses(t *testing.T) {
	if f := compareReadings([]int64{1, 2, 3}, []int64{1, 2, 3}); len(f) != 0 {
		t.Errorf("nothing is wrong, and it says %q", f)
	}
	for name, rows := range map[string][]int64{"missing": {1, 3}, "double": {1, 2, 2, 3}, "foreign": {1, 2, 3, 9}} {
		if len(compareReadings([]int64{1, 2, 3}, rows)) == 0 {
			t.Errorf("a %s row is not found", name)
		}
	}
	messages := make([]store.MessageRecord, 2)
	messages[0].ID, messages[1].ID = 1, 2
	for i := range messages {
		messages[i].Attempts = make([]store.Attempt, 1)
	}
	if f := compareMessages(messages, map[int64]int{1: 1, 2: 1}, 0); len(f) != 0 {
		t.Errorf("nothing is wrong, and it says %q", f)
	}
	for name, got := range map[string]map[int64]int{"lost": {1: 1}, "repeated": {1: 1, 2: 2}} {
		if len(compareMessages(messages, got, 0)) == 0 {
			t.Errorf("a %s message is not found", name)
		}
	}
}
