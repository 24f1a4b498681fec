package app

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

const (
	loadRate = 1000                   // readings a second of the other probes
	ringsAt  = 21                     // minutes: 20 over 7.2 °C
	rings    = 100                    // warm fridges of one run
	ringIn   = 100 * time.Millisecond // from the reading to the phone, p99
)

// BenchmarkReadingToMessage is the time from the publish of the reading that rings to
// the message at the phone's server, through a real broker, the store and the outbox,
// while the other probes send a thousand readings a second.
func BenchmarkReadingToMessage(b *testing.B) {
	for b.Loop() {
		s := newShop(b)
		heard := make(chan time.Time, rings)
		phone := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			var m ring
			if json.NewDecoder(r.Body).Decode(&m) == nil && m.Entry == "C2" && m.Kind == "raised" {
				heard <- time.Now()
			}
		}))
		s.cfg.Channels[0].Text["url"] = phone.URL
		s.open()
		s.begin(raw)
		stop := s.load(b)
		took := make([]time.Duration, rings)
		for i := range took {
			took[i] = s.warmFridge(dawn.Add(time.Duration(i)*80*time.Minute), heard)
		}
		sent, lasted := stop()
		p50, p99 := mqtttest.Quantile(took, 0.5), mqtttest.Quantile(took, 0.99)
		fmt.Printf("bench reading_to_message_p50 %.1f ms %.0f %.2f\n", ms(p50), ms(ringIn), ms(p50)/ms(ringIn))
		fmt.Printf("bench reading_to_message_p99 %.1f ms %.0f %.2f\n", ms(p99), ms(ringIn), ms(p99)/ms(ringIn))
		fmt.Printf("bench reading_to_message_load %.0f readings/s %d %.2f\n", float64(sent)/lasted.Seconds(), loadRate, float64(sent)/lasted.Seconds()/loadRate)
		s.close()
		phone.Close()
	}
}

func ms(d time.Duration) float64 { return d.Seconds() * 1000 }

// warmFridge warms the fridge for as long as it takes to ring, cools it until that is
// over, and returns how long the reading that rang was on its way.
func (s *shop) warmFridge(from time.Time, heard <-chan time.Time) time.Duration {
	s.t.Helper()
	var took time.Duration
	for m := range 80 {
		s.clock.Step(from.Add(time.Duration(m) * time.Minute))
		v := 3.0
		switch {
		case m == 0:
			v = 6 // a step to 9 would wait for the next reading to be believed
		case m <= ringsAt:
			v = 9
		}
		sent := time.Now()
		s.read("slow", v)
		if m != ringsAt {
			continue
		}
		select {
		case came := <-heard:
			took = came.Sub(sent)
		case <-time.After(10 * time.Second):
			s.t.Fatalf("nothing rang at %s", s.clock.Now())
		}
	}
	return took
}

// load sends readings of the chamber and the core until stop, which says how many in
// how long.
func (s *shop) load(b *testing.B) (stop func() (int, time.Duration)) {
	b.Helper()
	out, err := mqtttest.Dial(s.app.BrokerAddress(), "load")
	if err != nil {
		b.Fatal(err)
	}
	done, ended := make(chan struct{}), make(chan struct{})
	n, began := 0, time.Now()
	var readers sync.WaitGroup
	readers.Go(func() { // acknowledgements have to be read
		for {
			if _, err := out.Puback(10 * time.Second); err != nil {
				return
			}
		}
	})
	go func() {
		defer close(ended)
		tick := time.NewTicker(time.Second / loadRate)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
			}
			for due := int(time.Since(began).Seconds() * loadRate); n < due; n++ { // a tick that was missed is made up for
				at := s.clock.Now().Add(time.Duration(n%1000) * time.Millisecond)
				payload := fmt.Appendf(nil, `{"t":%q,"v":%.1f}`, at.Format(time.RFC3339Nano), 60+float64(n%50)/10)
				if err := out.Send(mqtttest.Packet([]string{"shop/chamber", "shop/core"}[n%2], payload, 1, mqtttest.PacketID(n))); err != nil {
					b.Error(err)
					return
				}
			}
		}
	}()
	return func() (int, time.Duration) {
		close(done)
		<-ended
		lasted := time.Since(began)
		out.Close()
		readers.Wait()
		return n, lasted
	}
}
