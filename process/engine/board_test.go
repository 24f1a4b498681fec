package engine

import (
	"testing"
	"time"

	"flitch/alerts"
)

func TestWhatExplainsAnAlarm(t *testing.T) {
	b := newBoard(alerts.Catalogue(alerts.Wood), nil)
	raise := func(entry, subject string, until time.Time) {
		a := &alerts.Alarm{Shelf: alerts.Shelf{Until: until}}
		a.Latest.Active = true
		b.alarms[alarmKey{entry, subject}] = a
	}
	raise("H3", "batch OL-1", time.Time{})
	raise("H3", "batch OL-2", ten)
	raise("B7", "phone path tv", time.Time{})
	probe := "probe core-1 of batch OL-1"
	for _, c := range []struct {
		entry, subject string
		want           bool
	}{
		{"H3", "batch OL-1", true},
		{"H3", probe, true},
		{"H3", "batch OL-2", false}, // on a shelf it tells nobody
		{"H3", "probe core-2 of batch OL-2", false},
		{"H3", "batch OL-3", false},
		{"B7", probe, false}, // a phone path silences no probe
	} {
		if got := b.explained(c.entry, c.subject); got != c.want {
			t.Errorf("%s explains %s: %v, want %v", c.entry, c.subject, got, c.want)
		}
	}
	raise("B7", FaultBroker, time.Time{})
	for _, subject := range []string{probe, "probe bottle of fridge alder"} {
		if !b.explained("B7", subject) {
			t.Errorf("a dead broker does not explain the silence of %s", subject)
		}
	}
}
