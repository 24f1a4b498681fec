package app

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
)

// A lampBoard is a lamp and a siren: it hears what is told by MQTT.
type lampBoard struct {
	mu   sync.Mutex
	last map[string]string
	all  []string // "topic payload", in order
}

func (*lampBoard) Reads(string) bool { return true }

func (l *lampBoard) Submit(_ context.Context, m ingest.Message) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.last[m.Topic] = string(m.Payload)
	l.all = append(l.all, m.Topic+" "+string(m.Payload))
	if m.Ack != nil {
		m.Ack()
	}
	return nil
}

func (l *lampBoard) shows(topic string) string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.last[topic]
}

func (l *lampBoard) told(topic, part string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, line := range l.all {
		if strings.HasPrefix(line, topic+" ") && strings.Contains(line, part) {
			return true
		}
	}
	return false
}

func watchLamps(t *testing.T, url, id string) *lampBoard {
	t.Helper()
	l := &lampBoard{last: map[string]string{}}
	up := make(chan bool, 10)
	ear, err := mqtt.Subscribe(mqtt.Config{URL: url, ClientID: id}, []string{"flitch/#"}, l, Wall{}, mqtt.Events{Up: func(bool) { up <- true }}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(ear.Close)
	<-up
	return l
}

const warmTopic = "flitch/alarms/C2/fridge-alder"

// warm makes the fridge too warm until its alarm rings.
func (s *shop) warm(publish func(v float64)) {
	s.every(minute, minute, 25*minute, func(time.Duration) { publish(9) })
}

// The whole story on the embedded broker: a lamp that comes late sees what stands,
// an answer is told, an alarm that is over is told and forgotten.
func TestTheLampByTheEmbeddedBroker(t *testing.T) {
	s := newShop(t)
	s.cfg.Announce.Topic = "flitch"
	s.open()
	s.begin(raw)
	s.warm(func(v float64) { s.read("slow", v) })
	s.lampStory(watchLamps(t, "tcp://"+s.app.BrokerAddress(), "lamp"), func(v float64) { s.read("slow", v) })
	if err := mqtttest.Pub(t, s.app.BrokerAddress(), "flitch/alarm", "none", 1); err == nil {
		t.Error("a sensor may say what only flitch says")
	}
	lamp := watchLamps(t, "tcp://"+s.app.BrokerAddress(), "lamp-2")
	if !s.until(func() bool { return lamp.shows("flitch/state") == "online" }) { // it listens from here on
		t.Fatal("a lamp that comes late does not see that flitch lives")
	}
	s.close()
	if !s.until(func() bool { return lamp.shows("flitch/state") == "offline" }) {
		t.Errorf("after the stop the state is %q", lamp.shows("flitch/state"))
	}
}

func (s *shop) lampStory(lamp *lampBoard, publish func(v float64)) {
	t := s.t
	t.Helper()
	if !s.until(func() bool {
		return lamp.shows("flitch/alarm") == "ring" && lamp.shows("flitch/unanswered") == "ring" && lamp.shows("flitch/state") == "online"
	}) {
		t.Fatalf("the lamp shows %v", lamp.last)
	}
	if got := lamp.shows(warmTopic); !strings.Contains(got, `"state":"active"`) || !strings.Contains(got, `"level":"ring"`) {
		t.Errorf("%s: %q", warmTopic, got)
	}
	number, _, err := s.app.Alarm("C2")
	if err != nil {
		t.Fatal(err)
	}
	s.must(process.Command{Kind: process.CommandAcknowledge, Alarm: number})
	if !s.until(func() bool { return lamp.shows("flitch/unanswered") != "ring" }) {
		t.Error("somebody is on it and the siren goes on")
	}
	if !lamp.told(warmTopic, `"acknowledged_by":"T.V."`) {
		t.Error("nobody is told who is on it")
	}
	s.every(minute, 26*minute, 120*minute, func(time.Duration) { publish(3) })
	if !s.until(func() bool { return lamp.shows(warmTopic) == "" && lamp.told(warmTopic, `"state":"cleared"`) }) {
		t.Errorf("after the end: %q", lamp.shows(warmTopic))
	}
	if before, err := s.app.db.Rejections(10); err != nil || len(before) > 0 {
		t.Errorf("something of ours was read: %v %v", before, err)
	}
}

// By mosquitto: the same story; its copies outlive a restart of the broker, which
// forgets, and the last will speaks for one that is cut off.
func TestTheLampByMosquitto(t *testing.T) {
	outside := mqtttest.StartMosquitto(t)
	s := newShop(t)
	s.cfg.Broker = config.Broker{Mode: config.External, URL: outside.URL(), ClientID: "flitch-test"}
	s.cfg.Announce.Topic = "flitch"
	if err := mqtttest.Pub(t, outside.Addr, "flitch/state", "offline", 1, "-r"); err != nil {
		t.Fatal(err)
	}
	s.open()
	s.begin(raw)
	out, err := mqtt.NewPublisher(s.patience(), mqtt.Config{URL: outside.URL(), ClientID: "probes"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(out.Close)
	s.out = out
	publish := func(v float64) {
		before := count(t, s)
		s.read("slow", v)
		s.until(func() bool { return count(t, s) > before })
	}
	if !s.until(func() bool { s.say("shop/spare", "3"); return count(t, s) > 0 }) {
		t.Fatal("nothing comes in through mosquitto")
	}
	s.warm(publish)
	outside.Stop() // it keeps nothing on disk: all is said anew
	outside.Start()
	s.lampStory(watchLamps(t, outside.URL(), "lamp"), publish)
	lamp := watchLamps(t, outside.URL(), "lamp-2")
	s.out = nil
	s.close()
	if !s.until(func() bool { return lamp.shows("flitch/state") == "offline" }) {
		t.Errorf("after the stop the state is %q", lamp.shows("flitch/state"))
	}
}

// What an earlier run left at the broker is removed, a message that did not get
// through is said again, and two alarms never share a topic.
func TestTheAlarmStateCatchesUp(t *testing.T) {
	kept := map[string]string{"flitch/alarms/H3/batch-a": "{}", "flitch/alarm": "ring"}
	var refuse error
	s := newAlarmState("flitch")
	s.log = slog.New(slog.DiscardHandler)
	s.say = func(_ context.Context, topic string, payload []byte, retained bool) error {
		if refuse != nil {
			return refuse
		}
		if kept[topic] = string(payload); retained && len(payload) == 0 {
			delete(kept, topic)
		}
		return nil
	}
	s.shelf = func(alerts.Occurrence) alerts.Shelf { return alerts.Shelf{} }
	active := []alerts.Occurrence{}
	s.standing = func() ([]alerts.Occurrence, error) { return active, nil }
	s.past = func() ([]alerts.Occurrence, error) {
		return []alerts.Occurrence{{Number: 1, Entry: "H3", Subject: "batch A"}}, nil
	}
	s.leftovers()
	turn := func() {
		t.Helper()
		if err := s.turn(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	turn()
	if _, left := kept["flitch/alarms/H3/batch-a"]; left || kept["flitch/alarm"] != "none" || kept["flitch/state"] != "online" {
		t.Errorf("kept %v", kept)
	}
	active = []alerts.Occurrence{{Number: 3, Entry: "C2", Subject: "fridge a-b", Level: alerts.Tell}, {Number: 2, Entry: "C2", Subject: "fridge a b", Level: alerts.Ring}}
	refuse = errors.New("away")
	if s.turn(t.Context()) == nil {
		t.Error("a message that did not get through is taken for told")
	}
	refuse = nil
	turn()
	if len(kept) != 5 || !strings.Contains(kept["flitch/alarms/C2/fridge-a-b"], `"number":2`) || !strings.Contains(kept["flitch/alarms/C2/fridge-a-b-3"], `"number":3`) {
		t.Errorf("kept %v", kept)
	}
	clear(kept) // the broker has forgotten
	s.connected()
	turn()
	if len(kept) != 5 || kept["flitch/alarm"] != "ring" {
		t.Errorf("after the broker came back: %v", kept)
	}
}
