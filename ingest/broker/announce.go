package broker

import (
	"context"
	"fmt"
)

// Send passes a message for a device on, with quality of service 0. It is not retained
// and comes in as no reading. A device that is away misses it.
func (b *Broker) Send(topic string, payload []byte) error {
	if err := b.hook.publish(topic, payload, false, 0); err != nil {
		return fmt.Errorf("broker: send to %s: %w", topic, err)
	}
	return nil
}

// Announce says something of our own to every subscriber. It does not come in as
// a reading, whatever its topic. Retained messages are kept in memory: who
// announces says them anew after a start. An empty payload that is retained
// removes what was kept.
func (b *Broker) Announce(_ context.Context, topic string, payload []byte, retained bool) error {
	if err := b.hook.publish(topic, payload, retained, 1); err != nil {
		return fmt.Errorf("broker: announce on %s: %w", topic, err)
	}
	return nil
}
