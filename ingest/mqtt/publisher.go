package mqtt

import (
	"context"
	"fmt"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// A Publisher sends messages to a broker. It connects again by itself, and then
// sends what was not acknowledged again.
type Publisher struct {
	client  paho.Client
	ctx     context.Context // ends at Close
	cancel  context.CancelFunc
	waiting sync.WaitGroup
	mu      sync.Mutex // Close against Publish
}

// NewPublisher connects to the broker, trying until ctx ends. The session is not
// kept by the broker.
func NewPublisher(ctx context.Context, c Config) (*Publisher, error) {
	o, err := c.options(func(*connection, bool) {})
	if err != nil {
		return nil, err
	}
	o.SetCleanSession(true)
	p := &Publisher{client: paho.NewClient(o)}
	p.ctx, p.cancel = context.WithCancel(context.Background())
	token := p.client.Connect()
	select {
	case <-token.Done():
		err = token.Error()
	case <-ctx.Done():
		err = ctx.Err()
	}
	if err != nil {
		p.Close()
		return nil, fmt.Errorf("connect to broker %s: %w", c.URL, err)
	}
	return p, nil
}

// Publish sends a message with quality of service 0, 1 or 2 and returns a channel
// that gets one value: nil when the broker acknowledged (QoS 0: when the message
// was written), or why not. Messages go out in the order of the calls; a call may
// block while the connection is slow.
func (p *Publisher) Publish(ctx context.Context, topic string, payload []byte, qos byte) <-chan error {
	result := make(chan error, 1)
	if !p.enter() {
		result <- fmt.Errorf("publish to %s: the publisher is closed", topic)
		return result
	}
	token := p.client.Publish(topic, qos, false, payload)
	go func() {
		defer p.waiting.Done()
		select {
		case <-token.Done():
			result <- token.Error()
		case <-ctx.Done():
			result <- fmt.Errorf("publish to %s: not acknowledged: %w", topic, ctx.Err())
		case <-p.ctx.Done():
			result <- fmt.Errorf("publish to %s: not acknowledged before the publisher was closed", topic)
		}
	}()
	return result
}

// enter counts one message in, unless the publisher is closed.
func (p *Publisher) enter() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ctx.Err() != nil {
		return false
	}
	p.waiting.Add(1)
	return true
}

// PublishWait is Publish and waits for the result.
func (p *Publisher) PublishWait(ctx context.Context, topic string, payload []byte, qos byte) error {
	return <-p.Publish(ctx, topic, payload, qos)
}

// Close disconnects. Messages not acknowledged by then are given up.
func (p *Publisher) Close() {
	p.mu.Lock()
	p.cancel()
	p.mu.Unlock()
	p.client.Disconnect(uint(goodbye / time.Millisecond))
	p.waiting.Wait()
}
