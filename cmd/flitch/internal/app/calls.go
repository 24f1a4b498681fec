package app

import (
	"context"
	"errors"

	"flitch/ingest"
)

// callsKept is how many messages to devices may wait; what is asked for is asked again
// when it is still missing. Own bound.
const callsKept = 64

// call hands a message for a device on. It does not wait.
func (a *App) call(c ingest.Call) {
	select {
	case a.calls <- c:
	default:
		a.log.Warn("a device is not asked: too many messages wait", "topic", c.Topic)
	}
}

// startCalls begins to send, and returns how to stop it.
func (a *App) startCalls(send func(topic string, payload []byte) error) (end func() error) {
	return start("calls to sensors", func(ctx context.Context) error { return a.sendCalls(ctx, send) }).end
}

// sendCalls sends them through the broker that readings come by, until ctx ends.
func (a *App) sendCalls(ctx context.Context, send func(topic string, payload []byte) error) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case c := <-a.calls:
			if err := send(c.Topic, c.Payload); err != nil && !errors.Is(err, context.Canceled) {
				a.log.Warn("a device is not asked", "topic", c.Topic, "why", c.Why, "error", err)
			}
		}
	}
}
