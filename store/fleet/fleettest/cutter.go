package fleettest

import (
	"bytes"
	"encoding/binary"
	"io"
	"net"
	"sync"
	"sync/atomic"
	"testing"
)

// A Cut is where a connection is cut.
type Cut int

// The places.
const (
	Nowhere      Cut = iota
	InCopy           // after half a message of data of a COPY
	BeforeCommit     // the commit never arrives
	AfterCommit      // the commit is done, and its answer is lost
	cutPlaces
)

// A Cutter stands between a client and the server, reads what the client sends, and cuts.
type Cutter struct {
	listener net.Listener
	to       string
	Next     func() Cut                        // asked at each COPY and each commit of a client: where to cut this one; nil: none
	Hang     func(kind byte, body []byte) bool // asked at each message of a client: nothing arrives from this one on, and the line stands; nil: never
	counts   [cutPlaces]atomic.Int64
	mu       sync.Mutex
	open     map[net.Conn]bool
}

// NewCutter listens before the server.
func NewCutter(t testing.TB, to string, next func() Cut) *Cutter {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	c := &Cutter{listener: l, to: to, Next: next, open: map[net.Conn]bool{}}
	go c.accept()
	t.Cleanup(func() { l.Close(); c.CutAll() })
	return c
}

// Addr is where clients connect.
func (c *Cutter) Addr() string { return c.listener.Addr().String() }

// Counted is how often it cut there.
func (c *Cutter) Counted(at Cut) int64 { return c.counts[at].Load() }

// CutAll hangs up on everybody.
func (c *Cutter) CutAll() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for conn := range c.open {
		conn.Close()
	}
	clear(c.open)
}

func (c *Cutter) accept() {
	for {
		client, err := c.listener.Accept()
		if err != nil {
			return
		}
		server, err := net.Dial("tcp", c.to)
		if err != nil {
			client.Close()
			continue
		}
		c.mu.Lock()
		c.open[client], c.open[server] = true, true
		c.mu.Unlock()
		link := &link{c: c, client: client, server: server}
		go link.back()
		go link.forward()
	}
}

// A link is one connection.
type link struct {
	c              *Cutter
	client, server net.Conn
	deaf           atomic.Bool // answers are lost
	hung           atomic.Bool // nothing of the client arrives any more, and it hears nothing
}

func (l *link) close() {
	l.client.Close()
	l.server.Close()
	l.c.mu.Lock()
	delete(l.c.open, l.client)
	delete(l.c.open, l.server)
	l.c.mu.Unlock()
}

// back hands on what the server says; a deaf link waits for the answer and loses it.
func (l *link) back() {
	defer func() {
		if !l.hung.Load() {
			l.close()
		}
	}()
	buf := make([]byte, 1<<16)
	for {
		n, err := l.server.Read(buf)
		if err != nil || l.deaf.Load() {
			return
		}
		if _, err := l.client.Write(buf[:n]); err != nil {
			return
		}
	}
}

// forward hands on the messages of the client one by one: a type, a length, the rest.
func (l *link) forward() {
	defer l.close()
	head := make([]byte, 4)
	if _, err := io.ReadFull(l.client, head); err != nil { // the first has no type
		return
	}
	if l.pass(head, nil) != nil {
		return
	}
	head = make([]byte, 5)
	for {
		if _, err := io.ReadFull(l.client, head); err != nil {
			return
		}
		if l.pass(head, l.place) != nil {
			return
		}
	}
}

// hangs reports whether the line hangs, from this message on. The server gives it up at once: a
// transaction of it would hold what it has locked until the driver closes the line, much later.
func (l *link) hangs(kind byte, body []byte) bool {
	if !l.hung.Load() && l.c.Hang != nil && l.c.Hang(kind, body) {
		l.hung.Store(true)
		l.server.Close()
	}
	return l.hung.Load()
}

// pass hands on the message that begins with head, unless it is cut.
func (l *link) pass(head []byte, place func(kind byte, body []byte) Cut) error {
	body := make([]byte, binary.BigEndian.Uint32(head[len(head)-4:])-4)
	if _, err := io.ReadFull(l.client, body); err != nil {
		return err
	}
	at := Nowhere
	if place != nil && l.hangs(head[0], body) {
		return nil
	}
	if place != nil {
		at = place(head[0], body)
	}
	switch at {
	case InCopy:
		body = body[:len(body)/2]
	case BeforeCommit:
		return io.ErrUnexpectedEOF
	case AfterCommit:
		l.deaf.Store(true)
	}
	if _, err := l.server.Write(append(bytes.Clone(head), body...)); err != nil {
		return err
	}
	if at == InCopy {
		return io.ErrUnexpectedEOF
	}
	return nil
}

func (l *link) place(kind byte, body []byte) Cut {
	isCopy, isCommit := kind == 'd', kind == 'Q' && bytes.HasPrefix(bytes.ToLower(body), []byte("commit"))
	if !isCopy && !isCommit {
		return Nowhere
	}
	if l.c.Next == nil {
		return Nowhere
	}
	at := l.c.Next()
	if isCopy != (at == InCopy) {
		return Nowhere
	}
	l.c.counts[at].Add(1)
	return at
}
