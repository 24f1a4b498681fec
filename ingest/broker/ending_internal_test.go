package broker

import (
	"strconv"
	"testing"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
)

// A stop goes on while clients come and go. The library's own list of the clients of a
// listener hangs in this test within a second.
func TestAStopDoesNotHangWhileClientsHangUp(t *testing.T) {
	server := mochi.New(&mochi.Options{InlineClient: true})
	stop, ended := make(chan struct{}), make(chan struct{})
	go func() { // clients that hang up are taken off the list
		defer close(ended)
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				server.Clients.Delete(strconv.Itoa(i % 8))
			}
		}
	}()
	sent := make(chan struct{})
	go func() {
		defer close(sent)
		for range 200_000 {
			endedByUs{server: server}.sendAway("mqtt")
		}
	}()
	select {
	case <-sent:
	case <-time.After(time.Minute):
		t.Fatal("it hangs")
	}
	close(stop)
	<-ended
}
