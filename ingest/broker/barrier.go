package broker

import (
	"errors"
	"fmt"
	"net"
	"time"

	"github.com/mochi-mqtt/server/v2/listeners"
)

var errStumbled = errors.New("the broker library stumbled over a packet")

// acceptAgain is how long a listener waits that could not take a connection. Proposal.
const acceptAgain = time.Second

// Serve implements listeners.Listener. The library's own lets a mistake in the decoding of a
// packet end the whole program: v2.7.9 reads one byte behind the end of a SUBSCRIBE of MQTT 5
// that stops after a filter. Here it ends the connection that sent it.
func (e endedByUs) Serve(establish listeners.EstablishFn) {
	for {
		c, err := e.bound.Accept()
		switch {
		case errors.Is(err, net.ErrClosed):
			return
		case err != nil: // no more files may be open, perhaps: sensors come back when others have gone
			e.server.Log.Error("no connection can be taken, trying again", "error", err)
			<-e.bound.clock.After(acceptAgain)
			continue
		}
		go e.attend(c, establish)
	}
}

func (e endedByUs) attend(c net.Conn, establish listeners.EstablishFn) {
	defer func() {
		if what := recover(); what != nil {
			e.over(c, fmt.Errorf("%w: %v", errStumbled, what))
		}
	}()
	if err := establish(e.ID(), c); err != nil {
		e.server.Log.Warn("", "error", err)
	}
}

// over clears up behind a connection whose end the library does not tell of.
func (e endedByUs) over(c net.Conn, err error) {
	e.server.Log.Warn("", "error", err, "remote", c.RemoteAddr().String())
	if ours, ok := c.(*conn); ok {
		ours.cut()
	}
	for _, s := range e.hook.all() {
		if s.cl.Net.Conn != c {
			continue
		}
		e.hook.OnDisconnect(s.cl, err, true)
		e.hook.forget(s.cl)
	}
}
