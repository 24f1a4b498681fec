package broker

import (
	"crypto/tls"
	"io"
	"net"
	"sync"
	"time"

	"flitch/ingest"
)

// A listener bounds what the broker library does not: the number of connections
// that have not said who they are, and the time they may take to.
type listener struct {
	net.Listener
	conf  Config
	clock ingest.Clock

	mu        sync.Mutex
	open      map[*conn]struct{}
	strangers map[string]int // connections by address that have not said who they are
	over      bool           // nobody is let in any more
}

func newListener(bound net.Listener, conf Config, clock ingest.Clock) *listener {
	return &listener{Listener: bound, conf: conf, clock: clock, open: map[*conn]struct{}{}, strangers: map[string]int{}}
}

// Accept returns the next connection within the limit, and closes those beyond it.
func (l *listener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if tracked := l.track(c); tracked != nil {
			// The library sets its own deadline once it has read CONNECT.
			_ = tracked.SetReadDeadline(l.clock.Now().Add(connectLimit))
			return tracked, nil
		}
		c.Close()
	}
}

// strangersOf is how many connections one address may have that have not said who they
// are: three quarters of all, so that somebody who only connects cannot keep every sensor
// out. Proposal.
func strangersOf(clients int) int { return max(1, clients*3/4) }

// track counts c in; nil when there are too many.
func (l *listener) track(c net.Conn) *conn {
	from, _, _ := net.SplitHostPort(c.RemoteAddr().String()) // empty for what has no port
	if l.conf.TLS != nil {
		c = tls.Server(c, l.conf.TLS)
	}
	tracked := &conn{Conn: c, listener: l, from: from}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.over || len(l.open) >= l.conf.MaxClients || l.strangers[from] >= strangersOf(l.conf.MaxClients) {
		return nil
	}
	l.open[tracked] = struct{}{}
	l.strangers[from]++
	return tracked
}

// known no longer counts a connection as that of a stranger; l.mu is held.
func (l *listener) known(c *conn) {
	if c.isKnown {
		return
	}
	c.isKnown = true
	if l.strangers[c.from]--; l.strangers[c.from] <= 0 {
		delete(l.strangers, c.from)
	}
}

func (l *listener) count() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.open)
}

// end lets nobody in any more: a client that is sent away at a stop may be back before the
// port is closed.
func (l *listener) end() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.over = true
}

// cut closes all connections.
func (l *listener) cut() {
	l.mu.Lock()
	all := make([]*conn, 0, len(l.open))
	for c := range l.open {
		all = append(all, c)
	}
	l.mu.Unlock()
	for _, c := range all {
		c.cut()
	}
}

// A conn is counted while it is open.
type conn struct {
	net.Conn
	listener *listener

	ending  sync.Mutex // held while a deadline is set
	ends    bool       // Close has its own
	from    string     // address, without the port
	isKnown bool       // it has said who it is, or is over; under the lock of the listener
	frames  frames     // of what is read; of the reader alone
}

// writeLimit is how long a client may take to read what it is sent. Proposal.
const writeLimit = 30 * time.Second

// Read ends a stream whose next packet may not come.
func (c *conn) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	if odd := c.frames.pass(p[:n]); odd != nil {
		return 0, odd
	}
	return n, err
}

// Write cuts the connection of a client that does not read: the library goes on after a
// write that was broken off, in the middle of a packet.
func (c *conn) Write(p []byte) (int, error) {
	_ = c.Conn.SetWriteDeadline(c.listener.clock.Now().Add(writeLimit))
	n, err := c.Conn.Write(p)
	if err != nil {
		c.cut()
	}
	return n, err
}

// SetDeadline is that of reading alone: the library moves both with each packet that
// comes, and a client that sends and never reads would hold its writers for ever.
// It does nothing once the connection is being closed, for whoever takes over the client's
// name would wait that long for the goodbye.
func (c *conn) SetDeadline(t time.Time) error {
	c.ending.Lock()
	defer c.ending.Unlock()
	if c.ends {
		return nil
	}
	return c.SetReadDeadline(t)
}

// admitted is told when the client has said who it is. One that came too late to be sent away
// at a stop is cut.
func (c *conn) admitted() {
	c.listener.mu.Lock()
	over := c.listener.over
	c.listener.known(c)
	c.listener.mu.Unlock()
	if over {
		c.cut()
	}
}

// A connection that is closed with something unread in it is reset, and what was on
// its way to the client is lost: acknowledgements, at a stop. So we say that we are
// done, and read on for a moment.
const (
	lingers  = 250 * time.Millisecond // proposal
	mostLeft = 1 << 20                // bytes; proposal
)

// Close takes up to lingers when the client does not hang up.
func (c *conn) Close() error {
	if c.forget() {
		if tcp := c.sayDone(); tcp != nil && tcp.CloseWrite() == nil {
			c.ending.Lock()
			c.ends = true
			_ = tcp.SetReadDeadline(c.listener.clock.Now().Add(lingers))
			c.ending.Unlock()
			_, _ = io.Copy(io.Discard, io.LimitReader(tcp, mostLeft))
		}
	}
	return c.Conn.Close()
}

// sayDone ends what we say, with TLS by the goodbye that it has for that, and returns
// the connection below; nil when it is none of TCP.
func (c *conn) sayDone() *net.TCPConn {
	below := c.Conn
	if secured, ok := below.(*tls.Conn); ok {
		_ = secured.CloseWrite()
		below = secured.NetConn()
	}
	tcp, _ := below.(*net.TCPConn)
	return tcp
}

// cut closes at once.
func (c *conn) cut() {
	c.forget()
	c.Conn.Close()
}

// forget no longer counts the connection; false when it was not counted any more.
func (c *conn) forget() bool {
	c.listener.mu.Lock()
	defer c.listener.mu.Unlock()
	_, open := c.listener.open[c]
	delete(c.listener.open, c)
	c.listener.known(c)
	return open
}
