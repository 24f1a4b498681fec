package sim

import (
	"context"
	"fmt"
	"time"
)

// A Sample is one message of one probe.
type Sample struct {
	Topic   string
	Payload []byte
	At      time.Time // measured, UTC
}

// A Publisher takes messages to a broker and returns when the broker has answered
// for this one, or has put it in its queue.
type Publisher interface {
	Publish(ctx context.Context, topic string, payload []byte) error
}

// Publish sends the samples in order and stops at the first that fails.
func Publish(ctx context.Context, to Publisher, samples []Sample) error {
	for _, s := range samples {
		if err := to.Publish(ctx, s.Topic, s.Payload); err != nil {
			return fmt.Errorf("publishing to %s the sample of %s: %w", s.Topic, s.At.Format(time.RFC3339), err)
		}
	}
	return nil
}
