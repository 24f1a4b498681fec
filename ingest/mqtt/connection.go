package mqtt

import (
	"bufio"
	"crypto/tls"
	"net"
	"time"
)

// greeted hears of a connection that the broker has accepted. resumed says whether
// it still had our session.
type greeted func(c *connection, resumed bool)

// dial opens a connection to the broker and watches its greeting.
func dial(address string, secured *tls.Config, greet greeted) (net.Conn, error) {
	dialer := &net.Dialer{Timeout: connectTimeout}
	var conn net.Conn
	var err error
	if secured == nil {
		conn, err = dialer.Dial("tcp", address)
	} else {
		conn, err = tls.DialWithDialer(dialer, "tcp", address, secured)
	}
	if err != nil {
		return nil, err
	}
	return &connection{Conn: conn, in: bufio.NewReader(conn), greet: greet}, nil
}

// connackSize is the length of a CONNACK: type, length, flags, return code
// (MQTT 3.1.1, 3.2).
const connackSize = 4

// A connection is a connection of the client library on which we also read the
// session-present flag off the first packet. The library tells it for the first
// connection only, and it is the later ones at which a broker that forgot us
// matters. What comes in is buffered: the library reads each packet in three steps,
// a system call each.
type connection struct {
	net.Conn
	in    *bufio.Reader
	greet greeted
	seen  [connackSize]byte
	n     int // of seen; the library reads from one goroutine
}

func (c *connection) Read(p []byte) (int, error) {
	n, err := c.in.Read(p)
	if c.n < connackSize && n > 0 {
		c.n += copy(c.seen[c.n:], p[:n])
		if c.n == connackSize && c.seen[3] == 0 { // accepted
			c.greet(c, c.seen[2]&1 == 1)
		}
	}
	return n, err
}

// acknowledge writes the PUBACKs (MQTT 3.1.1, 3.4) of ids in one call. The
// library's own Ack takes each through three goroutines and a system call, and sets
// no deadline on it. A write is atomic, so they never break into a packet of the
// library. A broker that does not read until the deadline loses the connection.
func (c *connection) acknowledge(ids []uint16, deadline time.Time) {
	out := make([]byte, 0, 4*len(ids))
	for _, id := range ids {
		out = append(out, 0x40, 2, byte(id>>8), byte(id))
	}
	err := c.SetWriteDeadline(deadline)
	if err == nil {
		_, err = c.Write(out)
	}
	if err == nil {
		err = c.SetWriteDeadline(time.Time{}) // the library writes without one
	}
	if err != nil {
		c.end()
	}
}

// end ends the connection by its read end: of one that is closed here the library thinks it
// was meant, and it neither tells nor connects again before the next ping.
func (c *connection) end() { _ = c.SetReadDeadline(time.Unix(1, 0)) }
