package mqtt

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"flitch/ingest"
)

// Kept is what a broker had for a client that was away.
type Kept struct {
	Sent   int  // messages it acknowledged meanwhile
	Kept   int  // of them, those it handed over when the client was back
	Forgot bool // it did not know the client any more
}

// Trial finds out what the broker keeps for us while we are away: MQTT 3.1.1 has no way
// to ask for the limit of its queue, and it acknowledges to the sensor what it then drops.
// A client with a session of its own goes away, n messages are published, and it comes
// back and counts. The session is given up at the end. The user needs the right to publish
// and to read below ClientID + "/trial". The error is for a trial that could not be made.
func Trial(ctx context.Context, c Config, n int, clock ingest.Clock) (Kept, error) {
	return trial(ctx, c, n, clock, func() {})
}

// trial calls between while the client is away, after everything was published.
func trial(ctx context.Context, c Config, n int, clock ingest.Clock, between func()) (kept Kept, err error) {
	s := &sleeper{conf: c, clock: clock, topic: c.ClientID + "/trial/" + rand.Text(), heard: map[string]bool{}, news: make(chan struct{}, 1)}
	s.conf.ClientID += "-trial"
	defer func() { err = errors.Join(err, s.giveUp(ctx)) }()
	if err := s.subscribe(ctx); err != nil {
		return kept, err
	}
	sender := c
	sender.ClientID += "-trial-sender"
	out, err := NewPublisher(ctx, sender)
	if err != nil {
		return kept, err
	}
	defer func() { out.Close() }()
	if kept.Sent, err = publishAll(ctx, out, s.topic, n); err != nil {
		return kept, s.rights(err)
	}
	between()
	resumed, err := s.connect(ctx, false)
	if err != nil {
		return kept, err
	}
	kept.Forgot = !resumed
	if resumed {
		err = s.drain(ctx, out)
	}
	kept.Kept = s.count()
	return kept, err
}

// leave is how long a client of a trial takes to say goodbye.
const leave = 100 * time.Millisecond

// underWay is how many messages of a trial wait for their acknowledgement at once.
const underWay = 100

func publishAll(ctx context.Context, out *Publisher, topic string, n int) (sent int, err error) {
	var waiting []<-chan error
	for i := 0; i < n || len(waiting) > 0; {
		if i < n && len(waiting) < underWay {
			waiting = append(waiting, out.Publish(ctx, topic, fmt.Append(nil, i), 1))
			i++
			continue
		}
		if err := <-waiting[0]; err != nil {
			return sent, err
		}
		waiting = waiting[1:]
		sent++
	}
	return sent, nil
}

// A sleeper is the client of a trial that goes away and comes back.
type sleeper struct {
	conf   Config
	clock  ingest.Clock
	topic  string
	client paho.Client

	mu    sync.Mutex
	heard map[string]bool // by payload: what comes twice is one message
	news  chan struct{}
}

// connect opens a connection and returns whether the broker knew the session.
func (s *sleeper) connect(ctx context.Context, clean bool) (resumed bool, err error) {
	o, err := s.conf.options(func(*connection, bool) {})
	if err != nil {
		return false, err
	}
	o.SetCleanSession(clean).SetConnectRetry(false).SetAutoReconnect(false).SetStore(noStore{})
	o.SetDefaultPublishHandler(s.receive)
	s.client = paho.NewClient(o)
	token, _ := s.client.Connect().(*paho.ConnectToken)
	if err := within(ctx, token); err != nil {
		return false, fmt.Errorf("trial: connect to broker %s: %w", s.conf.URL, err)
	}
	return token.SessionPresent(), nil
}

// subscribe makes the session and goes away.
func (s *sleeper) subscribe(ctx context.Context) error {
	if _, err := s.connect(ctx, true); err != nil { // what an earlier trial left behind
		return err
	}
	s.client.Disconnect(uint(leave / time.Millisecond))
	if _, err := s.connect(ctx, false); err != nil {
		return err
	}
	token := s.client.Subscribe(s.topic, 1, nil)
	err := within(ctx, token)
	if err == nil {
		err = refused(token)
	}
	if err != nil {
		return fmt.Errorf("trial: subscribe: %w", err)
	}
	s.client.Disconnect(uint(leave / time.Millisecond))
	return nil
}

func (s *sleeper) receive(_ paho.Client, m paho.Message) {
	s.mu.Lock()
	s.heard[string(m.Payload())] = true
	s.mu.Unlock()
	select {
	case s.news <- struct{}{}:
	default:
	}
}

// last is the payload after which nothing of the queue comes any more. A queue that is
// full drops it too, so it is said again until it is heard.
const last, again = "last", 500 * time.Millisecond

func (s *sleeper) drain(ctx context.Context, out *Publisher) error {
	for !s.has(last) {
		if err := out.PublishWait(ctx, s.topic, []byte(last), 1); err != nil {
			return s.rights(err)
		}
		pause := s.clock.After(again)
		for waiting := true; waiting && !s.has(last); {
			select {
			case <-s.news:
			case <-pause:
				waiting = false
			case <-ctx.Done():
				return s.rights(fmt.Errorf("the broker hands nothing over: %w", ctx.Err()))
			}
		}
	}
	return nil
}

// rights says what most likely stands behind a trial that got stuck: a broker may drop
// what a user has no right to, or hang up.
func (s *sleeper) rights(err error) error {
	return fmt.Errorf("trial: may this user publish and read on %s? %w", s.topic, err)
}

func (s *sleeper) has(payload string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.heard[payload]
}

// count is how many messages came, without the last.
func (s *sleeper) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := len(s.heard)
	if s.heard[last] {
		n--
	}
	return n
}

// giveUp lets the broker forget the session.
func (s *sleeper) giveUp(ctx context.Context) error {
	if s.client != nil {
		s.client.Disconnect(uint(leave / time.Millisecond))
	}
	_, err := s.connect(ctx, true)
	if err == nil {
		s.client.Disconnect(uint(leave / time.Millisecond))
	}
	return err
}

// within waits for a token until ctx ends.
func within(ctx context.Context, token paho.Token) error {
	select {
	case <-token.Done():
		return token.Error()
	case <-ctx.Done():
		return ctx.Err()
	}
}
