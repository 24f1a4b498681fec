package broker

import (
	"cmp"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"time"

	"flitch/ingest"
)

// A Config sets the broker up. Zero limits take the defaults named.
type Config struct {
	Listen string      // host:port; only a loopback address may do without Users or Anonymous
	TLS    *tls.Config // nil: plain text
	// Users by name. Empty: anyone may connect, from this machine only. Otherwise
	// everyone has to sign in. Secrets are kept as SHA-256 only.
	Users map[string]User
	// Anonymous says aloud that without users anyone on the network may send.
	Anonymous bool

	MaxPacket    uint32        // bytes; 0 is 2 MiB
	MaxClients   int           // connections; 0 is 256
	MaxKeepAlive time.Duration // a client asking for longer, or for none, gets this; 0 is 5 min, at most 12 h
	MaxKept      int           // bytes of retained messages; 0 is 16 MiB
	Kept         []Kept        // what was kept before a start anew
	MaxRate      float64       // packets a second of one client, on the long run; 0 is 1000
	MaxFilters   int           // subscriptions of one client; 0 is 256
	MaxStored    int           // sessions kept for clients that are away; 0 is 64, the longest away goes first
	MaxQueued    int           // bytes that wait for clients, all together; 0 is 32 MiB, the largest queue goes first
	// StallLimit is how long a client may wait for the store before it is
	// disconnected; 0 is 30 s.
	StallLimit time.Duration
	// Unmapped hears each message on a topic that is no reading; nil is fine. It must
	// not keep the payload.
	Unmapped func(topic string, payload []byte)
	// Twins hears of a client id that connections take from each other again and again; nil
	// is fine.
	Twins func(id string)
	// FanOut passes readings on to other subscribers, after they are on disk.
	FanOut bool
	// Own is the first part of the topics that only Announce writes; empty for none.
	Own string
}

// Defaults, all proposals: a household or a small shop has a dozen sensors.
const (
	maxPacket    = 2 << 20 // bytes; a payload that is too large to be read is kept as rejected, not cut off
	maxClients   = 256
	maxKeepAlive = 5 * time.Minute
	keepAliveCap = 12 * time.Hour // the library counts 1.5 times this in 16 bits of seconds
	stallLimit   = 30 * time.Second
	connectLimit = 10 * time.Second // from the connection to the end of CONNECT
)

func (c Config) withDefaults() Config {
	if c.MaxPacket == 0 {
		c.MaxPacket = maxPacket
	}
	if c.MaxClients <= 0 {
		c.MaxClients = maxClients
	}
	if c.MaxKeepAlive <= 0 {
		c.MaxKeepAlive = maxKeepAlive
	}
	if c.MaxKept <= 0 {
		c.MaxKept = keptRoom
	}
	if c.MaxRate <= 0 {
		c.MaxRate = maxRate
	}
	if c.Twins == nil {
		c.Twins = func(string) {}
	}
	c.MaxFilters, c.MaxStored, c.MaxQueued = cmp.Or(c.MaxFilters, maxFilters), cmp.Or(c.MaxStored, maxStored), cmp.Or(c.MaxQueued, queuedRoom)
	if c.Unmapped == nil {
		c.Unmapped = func(string, []byte) {}
	}
	c.MaxKeepAlive = min(c.MaxKeepAlive, keepAliveCap)
	if c.StallLimit <= 0 {
		c.StallLimit = stallLimit
	}
	return c
}

// check refuses a broker that would be open to the network.
func (c Config) check(bound net.Addr) error {
	if len(c.Users) == 0 && !c.Anonymous && !isLoopback(bound) {
		return fmt.Errorf("broker on %s: without users anyone on the network could send readings: add a user, listen on 127.0.0.1, or say anonymous = true", c.Listen)
	}
	for name, user := range c.Users {
		if name == "" || user.Secret == "" {
			return errors.New("broker: a user needs a name and a secret")
		}
	}
	return nil
}

// isOwn reports whether only Announce may write on a topic.
func (c Config) isOwn(topic string) bool {
	return c.Own != "" && (topic == c.Own || strings.HasPrefix(topic, c.Own+"/"))
}

// isLoopback reports whether only this machine can be at, or reach, the address.
func isLoopback(a net.Addr) bool {
	ap, err := netip.ParseAddrPort(a.String())
	return err == nil && ap.Addr().Unmap().IsLoopback()
}

// heldKeepAlive returns the keep-alive a client gets for the one it asked for, in
// seconds. None would mean no deadline for writing either, and one stalled device
// would then hold its goroutines for ever. A server may disconnect a client it finds
// inactive at any time (MQTT 3.1.1, 3.1.2.10).
func heldKeepAlive(asked uint16, most time.Duration) uint16 {
	limit := uint16(most / time.Second)
	if asked == 0 || asked > limit {
		return limit
	}
	return asked
}

// A Submitter is the intake: it says which topics are readings, and takes them.
type Submitter = ingest.Submitter
