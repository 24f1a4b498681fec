package mqtt

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"flitch/ingest"
)

// Events are what a Subscriber tells of its connection. Any may be nil. They are
// called from goroutines of the client library, one at a time, and must be quick.
type Events struct {
	// Up: connected and subscribed. resumed is false when the broker had no session
	// of us, so that nothing was kept while we were away.
	Up func(resumed bool)
	// Down: the connection is lost, or an attempt failed. Called again at each failed
	// attempt, also before the first Up.
	Down func(err error)
	// SessionLost: the broker forgot us between two connections of this run. What was
	// published meanwhile is missing.
	SessionLost func()
	// Dropped: the broker says that it has dropped n more messages, of whomever, because a
	// queue was full. Few brokers say.
	Dropped func(n int64)
}

// A Subscriber receives from an outside broker.
type Subscriber struct {
	client paho.Client
	intake ingest.Submitter
	clock  ingest.Clock
	topics []string
	events Events
	log    *slog.Logger

	ctx    context.Context // ends at Close; for Submit and pauses
	cancel context.CancelFunc
	acks   *ackQueue

	conn    atomic.Pointer[connection] // the one in use
	resumed atomic.Bool                // as its greeting said
	mu      sync.Mutex                 // one event at a time
	wasUp   bool                       // under mu
	drops   int64                      // the broker's count, under mu
	working sync.WaitGroup
}

// Subscribe starts to receive topics from the broker and to submit what comes. It
// returns at once: a broker that cannot be reached is reported as Events.Down and
// tried again until Close. The clock has to be the wall clock: deadlines of the
// connection are set by it.
func Subscribe(c Config, topics []string, intake ingest.Submitter, clock ingest.Clock, events Events, log *slog.Logger) (*Subscriber, error) {
	if len(topics) == 0 {
		return nil, errors.New("no topics to subscribe to")
	}
	s := &Subscriber{intake: intake, clock: clock, topics: topics, events: events, log: log, acks: newAckQueue(clock)}
	s.ctx, s.cancel = context.WithCancel(context.Background())
	o, err := c.options(s.greeted)
	if err != nil {
		s.cancel()
		s.acks.close()
		return nil, err
	}
	o.SetCleanSession(false).SetAutoAckDisabled(true).SetOrderMatters(true).SetStore(noStore{})
	// Redelivery starts before the subscription is answered, so that the handler is set
	// before Connect.
	o.SetDefaultPublishHandler(s.receive)
	o.SetOnConnectHandler(s.connected)
	o.SetConnectionNotificationHandler(s.notified)
	s.client = paho.NewClient(o)
	s.client.Connect()
	return s, nil
}

// greeted notes the connection; the library hands messages of it to receive, and
// none of an older one, since it waits for the old receive loop before it dials.
func (s *Subscriber) greeted(c *connection, resumed bool) {
	s.conn.Store(c)
	s.resumed.Store(resumed)
}

// receive hands one message to the intake. It runs on the client's receive loop: a
// full intake stops the loop, and then the broker's in-flight window stops the
// broker.
func (s *Subscriber) receive(_ paho.Client, m paho.Message) {
	if m.Topic() == droppedTopic {
		s.heardDropped(m.Payload())
		return
	}
	msg := ingest.Message{Topic: m.Topic(), Payload: m.Payload(), Retained: m.Retained()}
	if m.Qos() > 0 {
		a := ack{on: s.conn.Load(), id: m.MessageID()}
		msg.Ack = func() { s.acks.add(a) }
	}
	if err := s.intake.Submit(s.ctx, msg); err != nil && s.ctx.Err() == nil {
		s.log.Warn("message not taken, the broker will send it again", "topic", m.Topic(), "error", err)
	}
}

// connected starts the subscription; waiting for it here would block the client.
func (s *Subscriber) connected(paho.Client) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ctx.Err() == nil {
		s.working.Go(s.subscribe)
	}
}

// subscribe asks for the topics on a new connection, until the broker agrees or
// the connection is gone.
func (s *Subscriber) subscribe() {
	resumed := s.resumed.Load()
	for {
		err := s.ask()
		if err == nil {
			s.up(resumed)
			s.watchDropped()
			return
		}
		if s.ctx.Err() != nil || !s.client.IsConnectionOpen() {
			return // the next connection subscribes again
		}
		s.down(fmt.Errorf("subscribe: %w", err))
		select {
		case <-s.clock.After(maxReconnect):
		case <-s.ctx.Done():
			return
		}
	}
}

// ask sends one SUBSCRIBE for all topics and waits for the answer.
func (s *Subscriber) ask() error {
	filters := make(map[string]byte, len(s.topics))
	for _, t := range s.topics {
		filters[t] = 1
	}
	token := s.client.SubscribeMultiple(filters, nil)
	select {
	case <-token.Done():
	case <-s.clock.After(connectTimeout):
		return errors.New("no answer")
	case <-s.ctx.Done():
		return s.ctx.Err()
	}
	if err := token.Error(); err != nil {
		return err
	}
	return refused(token)
}

// refusal is the return code of a filter that is not granted (MQTT 3.1.1, 3.9.3).
const refusal = 0x80

// refused names the topics that the broker did not grant.
func refused(token paho.Token) error {
	granted, ok := token.(*paho.SubscribeToken)
	if !ok {
		return nil
	}
	var errs []error
	for topic, code := range granted.Result() {
		if code == refusal {
			errs = append(errs, fmt.Errorf("topic %q is refused: give this user the right to read it", topic))
		}
	}
	return errors.Join(errs...)
}

// notified passes on what the client library says of the connection.
func (s *Subscriber) notified(_ paho.Client, n paho.ConnectionNotification) {
	switch n := n.(type) {
	case paho.ConnectionNotificationLost:
		s.down(lost(n.Reason))
	case paho.ConnectionNotificationFailed:
		s.down(fmt.Errorf("connect: %w", n.Reason))
	}
}

// lost words the end of a connection; the client library may not know why.
func lost(reason error) error {
	if reason == nil {
		return errors.New("connection lost")
	}
	return fmt.Errorf("connection lost: %w", reason)
}

func (s *Subscriber) up(resumed bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.wasUp && !resumed && s.events.SessionLost != nil {
		s.events.SessionLost()
	}
	s.wasUp = true
	if s.events.Up != nil {
		s.events.Up(resumed)
	}
}

func (s *Subscriber) down(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ctx.Err() == nil && s.events.Down != nil {
		s.events.Down(err)
	}
}

// Send publishes a message that is not retained, with quality of service 0, on the
// connection of the subscriber, and waits until it is written or the subscriber is closed.
func (s *Subscriber) Send(topic string, payload []byte) error {
	if !s.client.IsConnectionOpen() {
		return fmt.Errorf("send to %s: %w", topic, ErrAway)
	}
	token := s.client.Publish(topic, 0, false, payload)
	select {
	case <-token.Done():
		return token.Error()
	case <-s.clock.After(writeTimeout):
		return fmt.Errorf("send to %s: not written in %s", topic, writeTimeout)
	case <-s.ctx.Done():
		return s.ctx.Err()
	}
}

// Again ends the connection, and it is made anew: what was not acknowledged on it comes once more.
func (s *Subscriber) Again() {
	if c := s.conn.Load(); c != nil {
		c.end()
	}
}

// Close disconnects. The session stays with the broker, which keeps what comes
// until we are back. Stop the intake first: the acknowledgements it has handed over
// are then sent before the connection ends, and no others may follow.
func (s *Subscriber) Close() {
	s.mu.Lock()
	s.cancel() // under mu: connected starts nothing afterwards
	s.mu.Unlock()
	s.acks.close()
	s.client.Disconnect(uint(goodbye / time.Millisecond))
	s.working.Wait()
}
