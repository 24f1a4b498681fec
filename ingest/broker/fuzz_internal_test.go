package broker

import (
	"context"
	"io"
	"net"
	"testing"
	"time"

	"github.com/mochi-mqtt/server/v2/listeners"

	"flitch/ingest"
	"flitch/ingest/ingesttest"
)

// taker stores nothing, and so acknowledges nothing.
type taker struct{}

func (taker) Reads(topic string) bool                      { return topic == "alder/slow" }
func (taker) Submit(context.Context, ingest.Message) error { return nil }

// Whatever a client sends, its connection ends when it hangs up, and the next one is let in.
func FuzzPackets(f *testing.F) {
	for _, seed := range []string{
		"",
		"\x30\x0f\x00\x0aalder/slow4.5",
		"\x32\x11\x00\x0aalder/slow\x00\x014.5",
		"\x34\x11\x00\x0aalder/slow\x00\x014.5\x62\x02\x00\x01",
		"\x82\x08\x00\x01\x00\x03a/#\x01\x30\x05\x00\x03a/bx\xa2\x07\x00\x01\x00\x03a/#",
		"\xc0\x00\xe0\x00",
		"\x40\x02\x00\x01\x50\x02\x00\x01\x62\x02\x00\x01\x70\x02\x00\x01",
		"\x33\x08\x00\x03a/b\x00\x01x",
		"\x82\x06\x00\x01\x00\x01\x00\x01a",
	} {
		f.Add([]byte(seed), false)
		f.Add([]byte(seed), true)
	}
	b, err := New(Config{Listen: "127.0.0.1:0", FanOut: true}, taker{}, wall{}, ingesttest.QuietLog())
	if err != nil {
		f.Fatal(err)
	}
	if err := b.Serve(); err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() {
		ctx, stop := context.WithTimeout(context.Background(), 10*time.Second)
		defer stop()
		_ = b.Close(ctx)
	})
	way := endedByUs{Net: listeners.NewNet("fuzz", b.listener), bound: b.listener, server: b.server, hook: b.hook}
	hello := map[bool]string{false: "\x10\x0d\x00\x04MQTT\x04\x02\x00\x3c\x00\x01f", true: "\x10\x0e\x00\x04MQTT\x05\x02\x00\x3c\x00\x00\x01f"}
	f.Fuzz(func(t *testing.T, packets []byte, five bool) {
		ours, theirs := net.Pipe()
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			way.attend(b.listener.track(ours), func(_ string, c net.Conn) error { return b.server.EstablishConnection("mqtt", c) })
		}()
		heard := make(chan []byte, 1)
		go func() {
			all, _ := io.ReadAll(theirs) // until it is closed
			heard <- all
		}()
		_, _ = theirs.Write([]byte(hello[five]))
		_, _ = theirs.Write(packets)
		theirs.Close()
		select {
		case <-ended:
		case <-time.After(20 * time.Second):
			t.Fatalf("%q: the connection does not end", packets)
		}
		<-heard
	})
}
