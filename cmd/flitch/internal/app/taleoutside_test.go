package app

import (
	"fmt"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

// patient is how long a real process may take for anything.
const patient = 60 * time.Second

const taleClient = "flitch-tale"

// outside is the way of a tale's readings over mosquitto, which is never killed: what it has
// acknowledged no sensor sends again, and it is flitch's to keep.
type outside struct {
	broker *mqtttest.Mosquitto
	relay  *mqtttest.Relay
	hasty  bool // control: acknowledged to mosquitto before the daemon has
	before int  // subscriptions before this life

	left map[string]bool // by step and message: mosquitto has acknowledged it
	sent map[message]int // how often it has
}

type message struct{ topic, payload string }

// newOutside begins with a broker that knows nothing of the tale before.
func newOutside(t *testing.T, broker *mqtttest.Mosquitto) *outside {
	t.Helper()
	clean, err := mqtttest.Dial(broker.Addr, taleClient) // a clean session ends the one that was kept
	if err != nil {
		t.Fatal(err)
	}
	clean.Close()
	return &outside{broker: broker, relay: mqtttest.NewRelay(t, broker.Addr), left: map[string]bool{}, sent: map[message]int{}}
}

// hasten acknowledges to mosquitto before the daemon does.
func (o *outside) hasten() {
	o.hasty = true
	o.relay.Hasten()
}

func (o *outside) config() string {
	return fmt.Sprintf("mode = \"external\"\nurl = \"tcp://%s\"\nclient_id = %q", o.relay.Addr, taleClient)
}

// begins: a new life has to subscribe anew.
func (o *outside) begins() {
	if o != nil {
		o.before = o.relay.Subscribed()
	}
}

// delivered waits until a life has subscribed, and has acknowledged all that mosquitto kept
// for it.
func (o *outside) delivered(l *life) error {
	if o == nil {
		return nil
	}
	waits := func() (what string) {
		if o.relay.Subscribed() == o.before {
			return "the subscription"
		}
		for m, n := range o.sent {
			if o.relay.Acked(m.topic, m.payload) < n && !o.hasty {
				return fmt.Sprintf("the acknowledgement of %s %s", m.topic, m.payload)
			}
		}
		return ""
	}
	return o.until(l, waits)
}

// until waits for flitch until it waits for nothing more.
func (o *outside) until(l *life, waits func() string) error {
	if o.relay.Until(patient, l.ended, func() bool { return waits() == "" }) {
		return nil
	}
	return fmt.Errorf("%w, or mosquitto waits in vain for %s", errKilled, waits())
}

// leave publishes to mosquitto, once for each step, and waits until flitch has it, unless none runs.
func (s *tale) leave(probe, payload, key string) error {
	m := message{"shop/" + probe, payload}
	step := fmt.Sprint(s.doing, m)
	again := s.away.left[step]
	if !again {
		s.away.publish(s.t, m)
		s.away.left[step], s.acked[key] = true, payload
		s.away.sent[m]++
		if s.count.Here("acknowledged, and the broker keeps it") {
			return errKilled
		}
	}
	if s.life == nil || again && s.away.hasty {
		return nil
	}
	return s.away.until(s.life, func() string {
		if s.away.relay.Acked(m.topic, m.payload) < s.away.sent[m] {
			return "the acknowledgement of " + payload
		}
		return ""
	})
}

// publish is a sensor, which a broker that lives always hears.
func (o *outside) publish(t *testing.T, m message) {
	t.Helper()
	out, err := mqtttest.Dial(o.broker.Addr, "sensor")
	if err == nil {
		defer out.Close()
		err = out.Send(mqtttest.Packet(m.topic, []byte(m.payload), 1, 7))
	}
	if err == nil {
		_, err = out.Puback(patient)
	}
	if err != nil {
		t.Fatalf("mosquitto took no reading: %v", err)
	}
}

// absent stops the daemon and leaves readings for it with the broker meanwhile. Our own broker
// is away with it.
func (s *tale) absent() error {
	if s.away == nil {
		return nil
	}
	if err := s.stop(); err != nil {
		return err
	}
	for i, c := range []float64{55, 55.5, 56} {
		at := s.now.Add(time.Duration(i-3) * time.Second)
		if err := s.leave("core", readingOf(at, c), nameOf("core", at)); err != nil {
			return err
		}
	}
	return nil
}
