package app

import (
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
)

// TryMessage says what would become of a message that arrived at that time. Nothing is
// stored, and no daemon has to run.
func TryMessage(c *config.Config, topic string, payload []byte, retained bool, at time.Time) (ingest.Tried, error) {
	return ingest.Try(mappings(c.Probes), ingest.Message{Topic: topic, Payload: payload, Retained: retained, Received: at.UTC().Truncate(time.Millisecond)})
}
