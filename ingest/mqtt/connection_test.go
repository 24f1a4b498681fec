package mqtt

import (
	"bufio"
	"net"
	"strings"
	"testing"
	"time"
)

// A connection that takes no acknowledgement ends in a way that the library tells of:
// it keeps silent about "use of closed network connection".
func TestAConnectionThatTakesNothingIsLost(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	inner, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer inner.Close()
	c := &connection{Conn: inner, in: bufio.NewReader(inner)}
	ended := make(chan error, 1)
	go func() {
		_, err := c.Read(make([]byte, 1))
		ended <- err
	}()
	c.acknowledge([]uint16{1}, time.Now().Add(-time.Second)) // the time to write is over
	if err := <-ended; err == nil || strings.Contains(err.Error(), "use of closed") {
		t.Errorf("the reader hears %v", err)
	}
}
