package engine

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// faulty is a house with three phones of one channel and a siren.
func faulty() *House {
	return NewHouse(nil, alerts.Catalogue(alerts.Electric), alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "push", Minimum: alerts.Tell}, {Name: "siren", Minimum: alerts.Ring}}})
}

func (h *House) fault(at time.Time, part string, value float64) {
	h.Take(process.Input{Kind: process.InputCommand, At: at, Command: process.Command{Kind: process.CommandFault, By: "flitch", Text: part, Value: value, At: at, Typed: at}})
}

func (h *House) minutes(from time.Time, n int) (said []string) {
	for i := range n {
		h.Take(process.Input{Kind: process.InputTick, At: from.Add(time.Duration(i) * time.Minute)})
	}
	for _, m := range h.pending.messages {
		said = append(said, fmt.Sprintf("%s %s %s", m.Channel, m.Kind, m.Subject))
	}
	return said
}

// One push service that is away is one cause: one ring names the channel, and in its
// text the phones. It goes on while any of them is out of reach, and ends once.
func TestPhonesOfOneChannelAreOnePath(t *testing.T) {
	h := faulty()
	for i := range 3 {
		h.fault(ten.Add(time.Duration(i)*20*time.Second), fmt.Sprintf("phone path push/%d", i+1), 1)
	}
	said := h.minutes(ten.Add(time.Minute), 10)
	if want := "siren raised RING Out of reach: phone path push"; strings.Join(said, "|") != want {
		t.Errorf("said %q, want %q", said, want)
	}
	if body := h.pending.messages[0].Body; !strings.Contains(body, "\nPhones that cannot be reached: no. 1, no. 2, no. 3 of the list.\n") {
		t.Errorf("the body is\n%s", body)
	}
	h.Happened()
	h.fault(ten.Add(11*time.Minute), "phone path push/4", 1) // a fourth, and two are back
	h.fault(ten.Add(12*time.Minute), "phone path push/1", 0)
	h.fault(ten.Add(12*time.Minute), "phone path push/2", 0)
	h.fault(ten.Add(13*time.Minute), "phone path push/3", 0)
	if said := h.minutes(ten.Add(13*time.Minute), 10); len(said) > 0 {
		t.Errorf("while no. 4 is out of reach %q", said)
	}
	h.fault(ten.Add(24*time.Minute), "phone path push/4", 0)
	if said := h.minutes(ten.Add(24*time.Minute), 10); strings.Join(said, "|") != "siren cleared Over: Out of reach: phone path push" {
		t.Errorf("at the end %q", said)
	}
	if len(h.faults)+len(h.paths) != 0 {
		t.Errorf("faults %v, paths %v", h.faults, h.paths)
	}
}

// An alarm of one phone alone, as it was stored before, ends: it would ring for ever.
func TestAnAlarmOfOnePhoneFromBeforeEnds(t *testing.T) {
	h := faulty()
	a := &alerts.Alarm{Subject: "phone path push/1", Told: []string{"siren"}, Condition: alerts.Condition{Triggers: make([]alerts.Sustained, 1)}, Latest: alerts.Occurrence{Number: 7, Entry: "B7", Subject: "phone path push/1", Level: alerts.Ring, Active: true}}
	h.board.alarms[alarmKey{"B7", a.Subject}] = a
	h.faults["phone path push/1"] = ten
	h.findPaths()
	h.minutes(ten.Add(time.Minute), 10)
	var standing []string
	for key, a := range h.board.alarms {
		if a.Latest.Active {
			standing = append(standing, key.String())
		}
	}
	if strings.Join(standing, " ") != "B7|phone path push" {
		t.Errorf("standing %q", standing)
	}
}
