package broker

import (
	"io"
	"log/slog"
	"net"
	"syscall"
	"testing"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
)

// A shortListener has no file to spare for some connections, then takes one, then is closed.
type shortListener struct {
	net.Listener
	answers []error
}

func (l *shortListener) Accept() (net.Conn, error) {
	err := net.ErrClosed
	if len(l.answers) > 0 {
		err, l.answers = l.answers[0], l.answers[1:]
	}
	if err != nil {
		return nil, &net.OpError{Op: "accept", Err: err}
	}
	near, _ := net.Pipe()
	return near, nil
}

// A hastyClock waits for nothing.
type hastyClock struct{ waits int }

func (c *hastyClock) Now() time.Time { return time.Time{} }

func (c *hastyClock) After(time.Duration) <-chan time.Time {
	c.waits++
	over := make(chan time.Time, 1)
	over <- time.Time{}
	return over
}

// Who runs out of files for a while takes sensors again afterwards.
func TestSensorsAreTakenAfterFilesRanOut(t *testing.T) {
	short := &shortListener{answers: []error{syscall.EMFILE, syscall.EMFILE, nil}}
	clock := &hastyClock{}
	quiet := slog.New(slog.NewTextHandler(io.Discard, nil))
	door := endedByUs{Net: listeners.NewNet("shed", short), bound: newListener(short, Config{MaxClients: 3}, clock), server: mochi.New(&mochi.Options{Logger: quiet})}
	taken := make(chan string, 1)
	door.Serve(func(id string, _ net.Conn) error { taken <- id; return nil })
	if id := <-taken; id != "shed" || clock.waits != 2 {
		t.Errorf("a connection of %q was taken after %d waits, want one after 2", id, clock.waits)
	}
}
