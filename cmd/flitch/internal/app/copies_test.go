package app

import (
	"slices"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/heard"
)

// A copy is handed on when the first connection has not brought its topic for a while, and
// something waits to be stored: else it would be heard twice.
func TestTheSecondEarHandsOnWhatTheFirstDoesNotBring(t *testing.T) {
	clock, first := NewStepped(dawn), &heard.List{}
	var got []string
	waits := true
	e := &secondEar{clock: clock, brought: first.LastOf, needed: func() bool { return waits },
		hand: func(m ingest.Message) { got = append(got, m.Topic+" "+string(m.Payload)) }}
	hear := func(topic, text string) { e.hear(topic, []byte(text), false) }
	expect := func(want ...string) {
		t.Helper()
		if e.pass(); !slices.Equal(got, want) {
			t.Errorf("handed on %q, want %q", got, want)
		}
		got = nil
	}
	first.Hear("slow", []byte("1"), false, clock.Now())
	hear("slow", "1")
	hear("core", "1") // the first connection brings it a second later
	expect()
	clock.Step(dawn.Add(time.Second))
	first.Hear("core", []byte("1"), false, clock.Now())
	hear("chamber", "1")
	clock.Step(dawn.Add(copyWaits))
	expect() // slow and core were brought, chamber is too young
	clock.Step(dawn.Add(copyWaits + time.Second))
	expect("chamber 1")
	clock.Step(dawn.Add(time.Minute))
	hear("slow", "2")
	hear("core", "2")
	clock.Step(dawn.Add(2 * time.Minute))
	expect("slow 2", "core 2")
	hear("slow", "3")
	clock.Step(dawn.Add(3 * time.Minute))
	waits = false // what was held is stored
	expect()
	for range copiesMost + 10 {
		hear("slow", "4")
	}
	waits = true
	clock.Step(dawn.Add(4 * time.Minute))
	if e.pass(); len(got) != copiesMost {
		t.Errorf("%d copies wait, want %d at most", len(got), copiesMost)
	}
}
