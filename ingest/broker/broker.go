package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net"
	"sync"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"

	"flitch/ingest"
)

// A Broker is one running broker on one address.
type Broker struct {
	conf     Config
	server   *mochi.Server
	hook     *hook
	listener *listener
	clock    ingest.Clock
	stop     chan struct{}
	closing  sync.Once
	watching sync.WaitGroup
}

// New opens the address and prepares the broker; Serve lets clients in. The clock
// has to be the wall clock: deadlines of connections are set by it.
func New(conf Config, intake Submitter, clock ingest.Clock, log *slog.Logger) (*Broker, error) {
	conf = conf.withDefaults()
	bound, err := net.Listen("tcp", conf.Listen)
	if err != nil {
		return nil, fmt.Errorf("broker: listen on %s: %w", conf.Listen, err)
	}
	if err := conf.check(bound.Addr()); err != nil {
		bound.Close()
		return nil, err
	}
	if conf.TLS == nil && !isLoopback(bound.Addr()) {
		log.Warn("the broker listens on the network without TLS: passwords can be read on the way", "address", bound.Addr().String())
	}
	rights, users := newRights(conf, intake, log), hashed(conf.Users)
	conf.Users = nil // with their secrets
	b := &Broker{conf: conf, clock: clock, stop: make(chan struct{})}
	b.listener = newListener(bound, conf, clock)
	b.server = mochi.New(options(conf, log))
	b.hook = newHook(conf, intake, clock, b.server, rights)
	for _, h := range []mochi.Hook{&auth{users: users, anyone: conf.Anonymous, rights: rights, clock: clock}, b.hook} {
		if err := b.server.AddHook(h, nil); err != nil {
			bound.Close()
			return nil, fmt.Errorf("broker: %w", err)
		}
	}
	if err := b.server.AddListener(endedByUs{listeners.NewNet("mqtt", b.listener), b.listener, b.server, b.hook}); err != nil {
		bound.Close()
		return nil, fmt.Errorf("broker: %w", err)
	}
	return b, nil
}

// options are the limits of the library, most of which are unlimited by default.
func options(conf Config, log *slog.Logger) *mochi.Options {
	limits := mochi.NewDefaultServerCapabilities()
	limits.MaximumPacketSize = conf.MaxPacket
	limits.MaximumClients = int64(conf.MaxClients)
	limits.MaximumSessionExpiryInterval = uint32((24 * time.Hour).Seconds())
	limits.TopicAliasMaximum = 0 // the library checks rights before it resolves an alias
	limits.MaximumInflight, limits.MaximumClientWritesPending = mostQueued, mostQueued
	return &mochi.Options{
		Capabilities: limits,
		InlineClient: true, // for the fan-out
		Logger:       slog.New(quiet{log.Handler(), &ration{}}),
		// $SYS topics are of no use here and cost a wake-up each second.
		SysTopicResendInterval: math.MaxInt32,
	}
}

// Serve starts to let clients in and returns.
func (b *Broker) Serve() error {
	b.hook.recall() // before anything newer comes
	if err := b.server.Serve(); err != nil {
		return fmt.Errorf("broker: %w", err)
	}
	b.watching.Go(func() { b.hook.watch(b.stop) })
	return nil
}

// Addr returns the address that clients connect to.
func (b *Broker) Addr() string { return b.listener.Addr().String() }

// Clients returns how many connections are open.
func (b *Broker) Clients() int { return b.listener.count() }

// Held returns for how many clients a session is held, connected or away, and how many
// subscriptions they have together.
func (b *Broker) Held() (clients, filters int) {
	for _, cl := range b.server.Clients.GetAll() {
		if !cl.Net.Inline {
			clients++
			filters += cl.State.Subscriptions.Len()
		}
	}
	return clients, filters
}

// Close sends the acknowledgements that wait, disconnects everyone and waits until
// all is quiet. When ctx ends before that, connections are cut. Stop the intake
// first: what it has taken is then stored and acknowledged, and the rest will be
// sent again. Only the first call does anything.
func (b *Broker) Close(ctx context.Context) (err error) {
	b.closing.Do(func() { err = b.close(ctx) })
	return err
}

func (b *Broker) close(ctx context.Context) error {
	close(b.stop)
	b.watching.Wait()
	b.hook.flush(ctx)
	b.hook.release()
	closed := make(chan error, 1)
	go func() { closed <- b.server.Close() }()
	var err error
	select {
	case err = <-closed:
	case <-ctx.Done():
		b.listener.cut()
		err = errors.Join(ctx.Err(), <-closed)
	}
	b.hook.wait()
	return err
}
