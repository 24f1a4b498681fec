package sweep

import (
	"net"
	"sync"
	"testing"
	"time"
)

// A cable is the network between a phone and the daemon. Pulled, it is as with a phone that
// leaves the house: nothing goes through any more, and nobody is told. (What Chromium calls
// offline leaves a stream that is open alone.)
type cable struct {
	listener net.Listener
	to       string

	mu     sync.Mutex
	pulled chan struct{} // closed while it is pulled
	open   []net.Conn
}

func newCable(t *testing.T, to string) *cable {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	c := &cable{listener: l, to: to, pulled: make(chan struct{})}
	t.Cleanup(func() { l.Close(); c.cut() })
	go c.serve()
	return c
}

func (c *cable) serve() {
	for {
		near, err := c.listener.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", c.to)
		if err != nil {
			near.Close()
			continue
		}
		c.mu.Lock()
		c.open = append(c.open, near, far)
		pulled := c.pulled
		c.mu.Unlock()
		go carry(near, far, pulled)
		go carry(far, near, pulled)
	}
}

// carry copies until the cable is pulled; then it takes what comes and hands on nothing.
func carry(from, to net.Conn, pulled <-chan struct{}) {
	part := make([]byte, 32<<10)
	for {
		n, err := from.Read(part)
		if err != nil {
			to.Close()
			return
		}
		select {
		case <-pulled:
			continue
		default:
		}
		if _, err := to.Write(part[:n]); err != nil {
			return
		}
	}
}

func (c *cable) pull() {
	c.mu.Lock()
	defer c.mu.Unlock()
	close(c.pulled)
}

// plug puts it back: what was open is gone, and new connections go through.
func (c *cable) plug() {
	c.cut()
	c.mu.Lock()
	defer c.mu.Unlock()
	c.pulled = make(chan struct{})
}

func (c *cable) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, one := range c.open {
		one.Close()
	}
	c.open = nil
}

// Every page that follows says within five seconds that it has lost its stream, and takes
// it back when it follows again.
func TestOffline(t *testing.T) {
	d := demo(t, "C2")
	for _, path := range []string{"/batches/OL-31-27", "/places"} {
		t.Run(path, func(t *testing.T) { t.Parallel(); losesIt(t, d, path) })
	}
}

func losesIt(t *testing.T, d *daemon, path string) {
	t.Helper()
	c := newCable(t, d.address[len("http://"):])
	b := openTab(t, 360)
	b.open("http://" + c.listener.Addr().String() + path)
	b.until("the stream", `performance.getEntriesByType("resource").some(e => e.initiatorType === "fetch")`)
	if ask[bool](b, `document.getElementById("lost").checkVisibility()`) {
		t.Errorf("%s says that it is not live while it is", path)
	}
	// By the page's own clock, without what its timers were late: a busy machine is not the page's.
	ask[bool](b, `(() => { const began = performance.now(); let last = began, late = 0;
		const look = setInterval(() => { const now = performance.now(); late += Math.max(0, now - last - 50); last = now;
			if (document.getElementById("lost").checkVisibility() && document.body.innerText.includes("NOT LIVE")) {
				clearInterval(look); window.lossTook = now - began - late; } }, 50); return true; })()`)
	c.pull()
	b.until("NOT LIVE on "+path, `window.lossTook !== undefined`)
	if took := time.Duration(ask[float64](b, `window.lossTook`)) * time.Millisecond; took > 5*time.Second {
		t.Errorf("%s took %s to say that it is not live", path, took)
	}
	c.plug()
	b.until("live again", `!document.getElementById("lost").checkVisibility()`)
}
