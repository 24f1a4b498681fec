package mqtt

import (
	"bufio"
	"crypto/tls"
	"net"
)

// dial opens a connection to the broker and watches its greeting.
func dial(address string, secured *tls.Config, greet func(resumed bool)) (net.Conn, error) {
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
	return &greeting{Conn: conn, in: bufio.NewReader(conn), greet: greet}, nil
}

// connackSize is the length of a CONNACK: type, length, flags, return code
// (MQTT 3.1.1, 3.2).
const connackSize = 4

// A greeting reads the session-present flag off the first packet of a connection.
// The client library tells it for the first connection only, and it is the later
// ones at which a broker that forgot us matters. It also buffers what comes in: the
// library reads each packet in three steps, a system call each.
type greeting struct {
	net.Conn
	in    *bufio.Reader
	greet func(resumed bool)
	seen  [connackSize]byte
	n     int // of seen; the client reads from one goroutine
}

func (g *greeting) Read(p []byte) (int, error) {
	n, err := g.in.Read(p)
	if g.n < connackSize && n > 0 {
		g.n += copy(g.seen[g.n:], p[:n])
		if g.n == connackSize && g.seen[3] == 0 { // accepted
			g.greet(g.seen[2]&1 == 1)
		}
	}
	return n, err
}
