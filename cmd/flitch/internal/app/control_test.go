package app

import (
	"slices"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/store"
)

// The examiner itself must be able to find a loss: it is given what is right, and
// then the same with one thing wrong.
func TestTheExaminerFindsLostAndDoubleReadings(t *testing.T) {
	acked := []int64{1, 2, 3}
	if f := compareReadings(acked, []int64{1, 2, 3}); len(f) != 0 {
		t.Errorf("nothing is wrong, and it says %q", f)
	}
	for name, rows := range map[string][]int64{"missing": {1, 3}, "double": {1, 2, 2, 3}, "foreign": {1, 2, 3, 9}, "all": nil} {
		if len(compareReadings(acked, rows)) == 0 {
			t.Errorf("a %s row is not found", name)
		}
	}
}

// evening is two messages: the first was cut off by the first of two kills and
// came again, the second came once.
func evening() (stored []store.MessageRecord, received []ring, deaths []time.Time) {
	sent := func(id int64, attempts ...store.Attempt) store.MessageRecord {
		m := alerts.Message{ID: id, Alarm: 10 + id, Kind: alerts.Raised, Entry: "H8"}
		return store.MessageRecord{Message: m, Status: store.MessageDelivered, Attempts: attempts}
	}
	cut := store.Attempt{Began: dawn}
	done := store.Attempt{Began: dawn.Add(2 * time.Minute), Ended: dawn.Add(2 * time.Minute), Outcome: alerts.Delivered}
	stored = []store.MessageRecord{sent(1, cut, done), sent(2, done)}
	received = []ring{
		{Message: 1, Alarm: 11, Kind: "raised", Entry: "H8", Title: "RING done"},
		{Message: 1, Alarm: 11, Kind: "raised", Entry: "H8", Title: "RING done (may repeat)"},
		{Message: 2, Alarm: 12, Kind: "raised", Entry: "H8", Title: "RING done"},
	}
	return stored, received, []time.Time{dawn.Add(time.Minute), dawn.Add(time.Hour)}
}

func TestTheExaminerFindsLostAndDoubleMessages(t *testing.T) {
	if f := compareMessages(evening()); len(f) != 0 {
		t.Errorf("nothing is wrong, and it says %q", f)
	}
	wrongs := map[string]func(stored *[]store.MessageRecord, received *[]ring, deaths *[]time.Time){
		"never received":           func(_ *[]store.MessageRecord, r *[]ring, _ *[]time.Time) { *r = (*r)[:2] },
		"received twice":           func(_ *[]store.MessageRecord, r *[]ring, _ *[]time.Time) { *r = append(*r, (*r)[2]) },
		"once more than cut off":   func(_ *[]store.MessageRecord, r *[]ring, _ *[]time.Time) { *r = append(*r, (*r)[1]) },
		"another number":           func(_ *[]store.MessageRecord, r *[]ring, _ *[]time.Time) { (*r)[1].Alarm = 99 },
		"repeat not marked":        func(_ *[]store.MessageRecord, r *[]ring, _ *[]time.Time) { (*r)[1].Title = (*r)[0].Title },
		"not in the outbox":        func(s *[]store.MessageRecord, _ *[]ring, _ *[]time.Time) { *s = (*s)[:1] },
		"cut off without a kill":   func(_ *[]store.MessageRecord, _ *[]ring, d *[]time.Time) { *d = nil },
		"still pending":            func(s *[]store.MessageRecord, _ *[]ring, _ *[]time.Time) { (*s)[1].Status = store.MessagePending },
		"settled by nobody":        func(s *[]store.MessageRecord, _ *[]ring, _ *[]time.Time) { (*s)[1].Attempts = nil },
		"two cut off by one kill":  func(s *[]store.MessageRecord, _ *[]ring, _ *[]time.Time) { cutTwice(*s) },
		"failed, then sent anyway": func(s *[]store.MessageRecord, _ *[]ring, _ *[]time.Time) { failFirst(*s) },
	}
	for name, spoil := range wrongs {
		stored, received, deaths := evening()
		spoil(&stored, &received, &deaths)
		if len(compareMessages(stored, received, deaths)) == 0 {
			t.Errorf("%s: not found", name)
		}
	}
}

func cutTwice(stored []store.MessageRecord) {
	stored[1].Attempts = slices.Insert(stored[1].Attempts, 0, store.Attempt{Began: dawn.Add(time.Second)})
}

func failFirst(stored []store.MessageRecord) {
	stored[1].Attempts = slices.Insert(stored[1].Attempts, 0, store.Attempt{Began: dawn, Ended: dawn, Outcome: alerts.Failed})
}

func TestTheExaminerFindsAnotherStory(t *testing.T) {
	told := func() story { return story{"journal 1": "begun", "occurrence 1": "H8", "alarm H8|batch PS-02": "{}"} }
	if f := compareStories(told(), told()); len(f) != 0 {
		t.Errorf("nothing is wrong, and it says %q", f)
	}
	for name, spoil := range map[string]func(story){
		"line less":  func(s story) { delete(s, "journal 1") },
		"line more":  func(s story) { s["journal 2"] = "begun" },
		"other text": func(s story) { s["occurrence 1"] = "H3" },
	} {
		stored := told()
		spoil(stored)
		if len(compareStories(stored, told())) == 0 {
			t.Errorf("a %s is not found", name)
		}
	}
}
