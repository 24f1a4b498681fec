package broker_test

import (
	"log/slog"
	"slices"
	"strings"
	"testing"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt/mqtttest"
)

// A sensor with a password of its own cannot speak for another's probe: with QoS 1 it is
// not acknowledged, with QoS 0 nothing is stored, and the log tells once.
func TestASensorSpeaksForItsProbeOnly(t *testing.T) {
	var log logText
	s, done := newShelf(t), newStored()
	in := start(t, s, mappings(), ingest.Options{Observe: done})
	b := serve(t, broker.Config{Users: map[string]broker.User{
		"alder": {Secret: "0123456789abcdef", Publish: []string{"alder/#"}},
		"birch": {Secret: "fedcba9876543210"},
	}}, in, slog.New(slog.NewTextHandler(&log, nil)))
	alder, birch := []string{"-u", "alder", "-P", "0123456789abcdef"}, []string{"-u", "birch", "-P", "fedcba9876543210"}
	for range 2 {
		if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "66", 1, birch...); err == nil {
			t.Error("another sensor's reading was acknowledged")
		}
	}
	if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "66", 0, birch...); err != nil {
		t.Error(err)
	}
	if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "4", 1, alder...); err != nil {
		t.Error(err)
	}
	// Of itself it may tell where it may not, and keeps its connection.
	if err := mqtttest.Pub(t, b.Addr(), "status/alder", "up", 1, alder...); err != nil {
		t.Error(err)
	}
	done.Wait(t, 1, 0)
	if got := s.Values(t, "alder-slow"); !slices.Equal(got, []float64{4}) {
		t.Errorf("on disk: %v", got)
	}
	for _, want := range []string{"user=birch topic=alder/slow", "user=alder topic=status/alder"} {
		if n := strings.Count(log.String(), want); n != 1 {
			t.Errorf("%q is in the log %d times:\n%s", want, n, log.String())
		}
	}
}

// What a user may not say is heard by nobody, neither at once nor later nor as a last
// will; and a filter that a user may not hear is not granted.
func TestWhatAUserMayNotSayNobodyHears(t *testing.T) {
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{Users: map[string]broker.User{
		"lamp":  {Secret: "0123456789abcdef", Subscribe: []string{"door/#"}},
		"alder": {Secret: "fedcba9876543210", Publish: []string{"alder/#"}},
		"door":  {Secret: "00112233445566", Publish: []string{"door/#"}},
	}}, in, quietLog())
	alder, door := []string{"-u", "alder", "-P", "fedcba9876543210"}, []string{"-u", "door", "-P", "00112233445566"}
	say := func(topic, text string, who ...string) {
		t.Helper()
		if err := mqtttest.Pub(t, b.Addr(), topic, text, 1, who...); err != nil {
			t.Error(err)
		}
	}
	say("door/state", "forged", append(alder, "-r")...)
	say("door/more", "true", append(alder, "--will-topic", "door/state", "--will-payload", "forged", "--will-retain", "--repeat", "1")...)
	say("door/state", "open", append(door, "-r")...)
	lamp := []string{"-u", "lamp", "-P", "0123456789abcdef"}
	if got, err := mqtttest.Sub(t, b.Addr(), "door/state", lamp...); err != nil || got != "open" {
		t.Errorf("the lamp hears %q, %v", got, err)
	}
	if got, err := mqtttest.Sub(t, b.Addr(), "#", lamp...); err == nil {
		t.Errorf("everything was granted: %q", got)
	}
}
