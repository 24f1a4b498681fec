package broker_test

import (
	"testing"

	"flitch/ingest"
	"flitch/ingest/broker"
)

// On all addresses without users: refused, unless the person says it aloud.
func TestAnonymousHasToBeSaidAloud(t *testing.T) {
	s := newShelf(t)
	in := start(t, s, mappings(), ingest.Options{})
	if _, err := broker.New(broker.Config{Listen: "0.0.0.0:0"}, in, wall{}, quietLog()); err == nil {
		t.Fatal("an open broker without users was not refused")
	}
	serve(t, broker.Config{Listen: "0.0.0.0:0", Anonymous: true}, in, quietLog())
}
