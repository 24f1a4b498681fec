package engine

import (
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A batch that is closed leaves no alarms behind but those that rang.
func TestAClosedBatchLeavesNoAlarms(t *testing.T) {
	h := newDoseHouse(t)
	h.dose("A", 57, "") // ten times too much: it is told
	h.minutes(30)
	count := func(id string) (all, rang int) {
		for key, a := range h.board.alarms {
			if batchOf(key.subject) == id {
				all++
				if a.Latest.Number > 0 {
					rang++
				}
			}
		}
		return all, rang
	}
	all, rang := count("OL-31-18")
	if rang == 0 || all <= rang {
		t.Fatalf("%d alarms of the batch, %d of them rang: nothing to forget", all, rang)
	}
	h.board.own["batch OL-31-18"] = ownEntries{}
	h.board.alarms[alarmKey{"C1", "fridge alder"}] = new(alerts.Alarm)
	h.forgetClosed()
	if now, _ := count("OL-31-18"); now != all {
		t.Errorf("an open batch has %d alarms, had %d", now, all)
	}
	shelved := alarmKey{"H3", "batch OL-31-18"}
	h.board.alarms[shelved] = &alerts.Alarm{Subject: shelved.subject, Shelf: alerts.Shelf{Until: ten.Add(time.Hour)}}
	h.say(process.Command{Kind: process.CommandDisposition, Disposition: process.Discard, Text: "ten times the salt"})
	h.say(process.Command{Kind: process.CommandClose, Text: "for the test"})
	if h.batch("OL-31-18") != nil {
		t.Fatal("the batch is not closed")
	}
	h.forgetClosed()
	now, still := count("OL-31-18")
	if still != rang || h.board.alarms[shelved] == nil || h.board.own["batch OL-31-18"] != nil || h.board.alarms[alarmKey{"C1", "fridge alder"}] == nil {
		t.Errorf("%d alarms, %d that rang, were %d; own entries %v", now, still, rang, h.board.own)
	}
	for key, a := range h.board.alarms {
		if batchOf(key.subject) != "" && key != shelved && a.Latest.Number == 0 && a.State() == alerts.Normal {
			t.Errorf("%v never rang and is still there", key)
		}
	}
}
