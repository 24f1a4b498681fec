package mqtt

import (
	"context"
	"errors"
	"fmt"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// A Will is what the broker says for us when the connection breaks without a
// goodbye. It is kept as retained.
type Will struct {
	Topic   string
	Payload string
}

// An Announcer sends retained messages to a broker on a connection of its own,
// with a last will. It connects again by itself and keeps nothing: after each
// connection Up is called, and whoever announces says everything anew.
type Announcer struct{ client paho.Client }

// NewAnnouncer starts to connect and returns at once. up is called from a
// goroutine of the client library after each connection and must not block.
func NewAnnouncer(c Config, will Will, up func()) (*Announcer, error) {
	o, err := c.options(func(*connection, bool) {})
	if err != nil {
		return nil, err
	}
	o.SetCleanSession(true).SetStore(noStore{})
	o.SetWill(will.Topic, will.Payload, 1, true)
	o.SetOnConnectHandler(func(paho.Client) { up() })
	a := &Announcer{client: paho.NewClient(o)}
	a.client.Connect()
	return a, nil
}

// ErrAway is returned while there is no connection to the broker.
var ErrAway = errors.New("the broker is out of reach")

// Announce sends one message with quality of service 1 and waits for the
// acknowledgement until ctx ends. An empty payload that is retained removes what
// the broker had kept.
func (a *Announcer) Announce(ctx context.Context, topic string, payload []byte, retained bool) error {
	if !a.client.IsConnectionOpen() {
		return fmt.Errorf("announce on %s: %w", topic, ErrAway)
	}
	token := a.client.Publish(topic, 1, retained, payload)
	select {
	case <-token.Done():
		return token.Error()
	case <-ctx.Done():
		return fmt.Errorf("announce on %s: not acknowledged: %w", topic, ctx.Err())
	}
}

// Close says goodbye, so that the broker forgets the will. Say before what should
// be read instead of it.
func (a *Announcer) Close() { a.client.Disconnect(uint(goodbye / time.Millisecond)) }
