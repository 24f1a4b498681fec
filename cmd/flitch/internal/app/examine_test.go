package app

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"flitch/alerts"
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
	s.examineAnswers(db)
	s.examineState(db)
	s.report(compareStories(written(s.t, db), retell(s.t, db, s.spec.config())))
}

// report shows the first faults of one kind: one mistake makes thousands.
func (s *slaughter) report(faults []string) {
	s.t.Helper()
	const most = 10
	for _, fault := range faults[:min(len(faults), most)] {
		s.t.Error(fault)
	}
	if len(faults) > most {
		s.t.Errorf("and %d more", len(faults)-most)
	}
}

func (s *slaughter) examineReadings(db *store.DB) {
	s.t.Helper()
	acked, again := 0, 0
	for _, one := range s.senders {
		rows := measured(s.t, db, one.probe)
		acked, again = acked+len(one.times), again+one.again
		s.report(compareReadings(one.times, rows))
	}
	s.t.Logf("%d readings acknowledged and stored once, %d sent again, %d or more absorbed", acked, again, s.absorbed)
	// A sensor repeats itself only when its own broker dies; mosquitto does not.
	if acked < s.kills*30 || s.absorbed == 0 || s.spec.Outside == "" && again == 0 {
		s.t.Error("too few readings, or none came again: that proves nothing")
	}
	if len(s.deaths) < s.kills || s.kills < 10 {
		s.t.Errorf("%d kills are too few", len(s.deaths))
	}
}

// measured returns the times of all rows of a probe.
func measured(t *testing.T, db *store.DB, probe string) (rows []int64) {
	t.Helper()
	err := db.EachReading([]string{probe}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error {
		rows = append(rows, r.Measured.UnixMilli())
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return rows
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

// examineMessages: alarms are numbered without a gap, people were told of each,
// and every message came as often as it should.
func (s *slaughter) examineMessages(db *store.DB) {
	s.t.Helper()
	list, sent, received := occurrences(s.t, db), messages(s.t, db), s.phone.all()
	for i, o := range list {
		if o.Number != int64(i+1) {
			s.t.Fatalf("alarm %d has the number %d", i+1, o.Number)
		}
		if !slices.ContainsFunc(sent, func(m store.MessageRecord) bool { return m.Alarm == o.Number && m.Kind == alerts.Raised }) {
			s.t.Errorf("alarm %d (%s) was raised and nobody was to be told", o.Number, o.Entry)
		}
	}
	s.report(compareMessages(sent, received, s.deaths))
	cut := 0
	for _, m := range sent {
		for _, a := range m.Attempts {
			if a.Ended.IsZero() {
				cut++
			}
		}
	}
	if len(list) < min(s.kills, 200)/10 || cut == 0 {
		s.t.Error("too few alarms, or no attempt cut off: that proves nothing")
	}
	s.t.Logf("%d alarms, %d messages, %d attempts cut off by a kill, %d repeats received", len(list), len(sent), cut, len(received)-len(sent))
}

// examineAnswers: an answer that was taken is on the record, once.
func (s *slaughter) examineAnswers(db *store.DB) {
	s.t.Helper()
	for _, o := range occurrences(s.t, db) {
		if n, want := s.duty.taken[o.Number], enough(o.Number); n != want || len(o.Answers) != 1 {
			s.t.Errorf("alarm %d: answered %d times, want %d; taken %d times, want 1", o.Number, n, want, len(o.Answers))
		}
	}
	if stages := s.batch(db).Stages; len(stages) != 4 {
		s.t.Errorf("stages %+v, want cure, rinse, dry and smoke", stages)
	}
}

func (s *slaughter) batch(db *store.DB) *process.Batch {
	s.t.Helper()
	row, found, err := db.Batch("PS-02")
	if err != nil || !found {
		s.t.Fatalf("no batch: %v", err)
	}
	b := new(process.Batch)
	if err := json.Unmarshal(row.State, b); err != nil {
		s.t.Fatal(err)
	}
	return b
}

// examineState: everything is evaluated, and the clocks are those of the log
// played again in its order, and of everything counted anew by the time it
// happened.
func (s *slaughter) examineState(db *store.DB) {
	s.t.Helper()
	saved, err := engineStore{DB: db}.Load()
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
	stored, inputs := s.batch(db), s.heardBy(db)
	replayed := process.Start(inputs[0])
	for _, in := range inputs[1:] {
		process.Step(replayed, in, nil)
	}
	s.report(compareClocks(stored, replayed, "when played again"))
	slices.SortStableFunc(inputs[1:], func(a, b process.Input) int { return a.EventTime().Compare(b.EventTime()) })
	s.report(compareClocks(stored, process.Recount(inputs[0], slices.Values(inputs[1:])), "when counted anew"))
}

func compareClocks(stored, other *process.Batch, how string) (faults []string) {
	again := other.Clocks(stored.Now)
	for i, c := range stored.Clocks(stored.Now) {
		if a := again[i]; a.Verdict != c.Verdict || math.Abs(a.Sum-c.Sum) > 1e-6 {
			faults = append(faults, fmt.Sprintf("%s: %v %q stored, %v %q %s", c.Name, c.Sum, c.Verdict, a.Sum, a.Verdict, how))
		}
	}
	for i, a := range stored.Tracks {
		if b := other.Tracks[i]; a.Samples != b.Samples || a.Last != b.Last {
			faults = append(faults, fmt.Sprintf("%s: %d samples, last %v stored; %d, %v %s", a.Probe.Probe, a.Samples, a.Last, b.Samples, b.Last, how))
		}
	}
	return faults
}

// heardBy returns all that the batch has seen, from the command that began it.
func (s *slaughter) heardBy(db *store.DB) (out []process.Input) {
	s.t.Helper()
	for after := int64(0); ; {
		inputs, err := db.NextInputs(after, 5000)
		if err != nil {
			s.t.Fatal(err)
		}
		if len(inputs) == 0 {
			return out
		}
		after = inputs[len(inputs)-1].Seq
		for _, in := range inputs {
			if in.Kind != process.InputCommand || in.Command.Batch == "PS-02" {
				out = append(out, in)
			}
		}
		for len(out) > 0 && out[0].Kind != process.InputCommand {
			out = out[1:] // before the batch
		}
	}
}
