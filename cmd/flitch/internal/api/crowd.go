package api

import (
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// Bounds of a door, proposals: a household with ten phones has some fifty connections, and a
// server in front of us, which comes from this machine, not many more.
const (
	maxConnections = 256
	maxOfOne       = 64               // of one address, but for this machine's own
	maxOfOneHere   = 192              // of this machine
	headerWithin   = 10 * time.Second // from the connection to the end of the header
	idleWithin     = 2 * time.Minute  // between two requests
	maxHeader      = 16 << 10         // bytes; the library takes 4 KB more
	maxAtOnce      = 32               // requests at once on one connection of HTTP/2
)

// NewServer is a server with the bounds that can be set there; those of each request are in
// New and NewGuarded. Its log is that of what clients do wrong.
func NewServer(handler http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{
		Handler: handler, ReadHeaderTimeout: headerWithin, IdleTimeout: idleWithin, MaxHeaderBytes: maxHeader,
		HTTP2:    &http.HTTP2Config{MaxConcurrentStreams: maxAtOnce},
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug),
	}
}

// A Crowd is a listener that lets so many in: in all, and from one address, so that nobody
// keeps everybody else out.
type Crowd struct {
	net.Listener
	mu sync.Mutex
	n  int
	of map[netip.Prefix]int
}

// NewCrowd bounds a listener.
func NewCrowd(l net.Listener) *Crowd { return &Crowd{Listener: l, of: map[netip.Prefix]int{}} }

// Accept returns the next connection within the bounds, and closes those beyond them.
func (c *Crowd) Accept() (net.Conn, error) {
	for {
		conn, err := c.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := houseOf(conn.RemoteAddr().String())
		if c.enter(from) {
			return &guest{Conn: conn, crowd: c, from: from}, nil
		}
		conn.Close()
	}
}

// houseOf is who is taken for one: an address, and of IPv6 the network that one machine may
// take its addresses from (64 bits, RFC 4291, 2.5.1).
func houseOf(address string) netip.Prefix {
	at, err := netip.ParseAddrPort(address)
	if err != nil {
		return netip.Prefix{}
	}
	ip := at.Addr().Unmap().WithZone("")
	bits := 32
	if ip.Is6() && !ip.IsLoopback() {
		bits = 64
	} else if ip.Is6() {
		bits = 128
	}
	p, _ := ip.Prefix(bits) // the bits are right for either kind
	return p
}

func (c *Crowd) enter(from netip.Prefix) bool {
	most := maxOfOne
	if from.Addr().IsLoopback() {
		most = maxOfOneHere
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.n >= maxConnections || c.of[from] >= most {
		return false
	}
	c.n++
	c.of[from]++
	return true
}

func (c *Crowd) leave(from netip.Prefix) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n--
	if c.of[from]--; c.of[from] <= 0 {
		delete(c.of, from)
	}
}

// A guest is counted while it is open.
type guest struct {
	net.Conn
	crowd *Crowd
	from  netip.Prefix
	once  sync.Once
}

// Close implements net.Conn.
func (g *guest) Close() error {
	g.once.Do(func() { g.crowd.leave(g.from) })
	return g.Conn.Close()
}
