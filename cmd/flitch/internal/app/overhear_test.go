package app

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/web"
	"flitch/ingest/decode"
	"flitch/ingest/mqtt/mqtttest"
)

// fromFile makes the shop run by a real configuration file, on free ports.
func (s *shop) fromFile() {
	s.t.Helper()
	path := filepath.Join(s.t.TempDir(), "flitch.toml")
	if err := os.WriteFile(path, []byte(config.Sample("Plover Shed")), 0o600); err != nil {
		s.t.Fatal(err)
	}
	s.reload(path)
}

func (s *shop) reload(path string) {
	s.t.Helper()
	database := s.cfg.Site.Database
	cfg, err := config.Load(path)
	if err != nil {
		s.t.Fatal(err)
	}
	cfg.Site.Database, cfg.Page.Listen, cfg.Broker.Listen = database, "127.0.0.1:0", "127.0.0.1:0"
	s.cfg = cfg
}

func (s *shop) heard() web.Heard {
	s.t.Helper()
	answer, err := http.Get(s.app.Address() + "/api/heard")
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	var h web.Heard
	if err := json.NewDecoder(answer.Body).Decode(&h); err != nil {
		s.t.Fatal(err)
	}
	return h
}

// add says to the interface that a number is a probe, and returns the answer.
func (s *shop) add(body string) (status int, text string) {
	s.t.Helper()
	answer, err := http.Post(s.app.Address()+"/api/probes", "application/json", strings.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	var b bytes.Buffer
	if _, err := b.ReadFrom(answer.Body); err != nil {
		s.t.Fatal(err)
	}
	return answer.StatusCode, b.String()
}

// A board that nobody knows is heard, one of its numbers becomes a probe, flitch starts
// anew by itself, and the next message is a reading.
func TestANumberThatWasHeardBecomesAProbe(t *testing.T) {
	s := newShop(t)
	s.fromFile()
	s.open()
	s.say("shed/box", `{"t1":61.4,"t2":58.2}`)
	s.say("larder/old-kettle", `{"grate":80,"core1":45,"spare":4}`)
	h := s.heard()
	if len(h.Topics) != 2 || h.Topics[0].Topic != "larder/old-kettle" || len(h.Topics[0].Used()) != 2 || len(h.Topics[0].Numbers()) != 1 || len(h.Topics[1].Numbers()) != 2 {
		t.Fatalf("heard %+v", h)
	}
	for _, bad := range []struct{ body, want string }{
		{`{"name":"core-2","place":"kettle","measures":"core","topic":"shed/box","value":"/t2","unit":"C","by":"T.V."}`, `no place is named`},
		{`{"name":"core-2","place":"old-kettle","measures":"core","topic":"shed/box","value":"/t2","unit":"C"}`, `nobody signed`},
		{`{"name":"core-1","place":"old-kettle","measures":"core","topic":"shed/#","value":"t2","unit":"R","by":"T.V."}`, `wildcard`},
		{`{"nome":"core-2"}`, `nome`},
		{`[]`, `error`},
	} {
		if status, text := s.add(bad.body); status < 400 || status >= 500 || !strings.Contains(text, bad.want) {
			t.Errorf("%s: %d %s", bad.body, status, text)
		}
	}
	if _, err := os.Stat(config.ProbeFile(s.cfg.Path)); !errors.Is(err, os.ErrNotExist) {
		t.Fatalf("a wrong probe was written: %v", err)
	}
	if status, text := s.add(`{"name":"core-2","place":"old-kettle","measures":"core","topic":"shed/box","value":"/t2","unit":"C","by":"T.V."}`); status != http.StatusOK {
		t.Fatalf("%d %s", status, text)
	}
	if err := <-s.done; !errors.Is(err, ErrAgain) {
		t.Fatalf("ended with %v", err)
	}
	s.out.Close()
	s.out, s.stop = nil, nil
	s.reload(s.cfg.Path)
	s.open()
	s.say("shed/box", `{"t1":61.4,"t2":58.3}`)
	latest, err := s.app.db.LatestReadings()
	if err != nil || latest["core-2"].Value != 58.3 {
		t.Errorf("readings %+v, %v", latest, err)
	}
	lines, err := s.app.db.Journal("")
	if err != nil || !strings.Contains(fmt.Sprintf("%+v", lines), "core-2: core at old-kettle") {
		t.Errorf("the journal says %+v, %v", lines, err)
	}
}

// The number of a device that speaks a protocol becomes a probe in the words of the
// protocol, and that of a list of stored readings one that reads all of them.
func TestWhatIsHeardBeginsTheRightProbe(t *testing.T) {
	s := newShop(t)
	s.open()
	s.say("homie/5/box/$state", "ready")
	s.say("homie/5/box/$description", `{"homie":"5.0","version":7}`)
	s.say("homie/5/box/air/temperature", "3.7")
	s.say("other/5/box/air/temperature", "3.7") // says no $state
	s.say("spBv1.0/shop/NBIRTH/kettle", "\x12\x11\x0a\x04room\x20\x0a\x69\x00\x00\x00\x00\x00\x80\x32\x40\x12\x0b\x0a\x05bdSeq\x20\x08\x58\x03\x18\x00")
	s.say("shed/stored", `{"readings":[{"ts":1796000000,"v":3.1},{"ts":1796000060,"v":3.2}]}`)
	want := map[string]config.NewProbe{
		"homie/5/box/$state":          {},
		"homie/5/box/$description":    {},
		"homie/5/box/air/temperature": {Protocol: "homie", Topic: "homie/5/box/air/temperature"},
		"other/5/box/air/temperature": {Topic: "other/5/box/air/temperature"},
		"spBv1.0/shop/NBIRTH/kettle":  {Protocol: "sparkplug", Topic: "shop/kettle", Metric: "room"},
		"shed/stored":                 {Topic: "shed/stored", Each: "/readings", Value: "/v"},
	}
	for _, topic := range s.heard().Topics {
		var got config.NewProbe
		if free := topic.Numbers(); len(free) > 0 {
			got = topic.Begin(free[0])
		}
		if expected, known := want[topic.Topic]; !known || got != expected {
			t.Errorf("%s: %+v, want %+v", topic.Topic, got, expected)
		}
		delete(want, topic.Topic)
	}
	if len(want) > 0 {
		t.Errorf("not heard: %+v", want)
	}
}

// Without a file there is nothing to write to.
func TestADemonstrationTakesNoProbe(t *testing.T) {
	s := newShop(t)
	s.open()
	if status, text := s.add(`{"name":"core-2","place":"kettle","measures":"core","topic":"shed/box","by":"T.V."}`); status != http.StatusUnprocessableEntity || !strings.Contains(text, "flitch init") {
		t.Errorf("%d %s", status, text)
	}
}

// At an outside broker too: what was published by a stranger's tool is heard, and what
// the broker had kept is marked.
func TestAnOutsideBrokerIsOverheard(t *testing.T) {
	broker := mqtttest.StartMosquitto(t)
	s := newShop(t)
	s.cfg.Broker = config.Broker{Mode: config.External, URL: "mqtt://" + broker.Addr, ClientID: "flitch", Overhear: "shed/#"}
	host, port, _ := strings.Cut(broker.Addr, ":")
	publish := func(topic, payload string, more ...string) {
		t.Helper()
		if out, err := exec.Command("mosquitto_pub", append([]string{"-h", host, "-p", port, "-q", "1", "-t", topic, "-m", payload}, more...)...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	publish("shed/kept", "4.5", "-r")
	s.open()
	var h web.Heard
	for patience := s.patience(); len(h.Topics) < 2; h = s.heard() { // the connection is made in its own time
		if patience.Err() != nil {
			t.Fatalf("heard %+v", h)
		}
		publish("shed/box", `{"t2":58.2}`)
		publish("street/other", "1")
	}
	if len(h.Topics) != 2 || h.Topics[0].Topic != "shed/box" || h.Topics[0].Values[0].Kind != decode.FoundNumber || h.Topics[0].Retained || !h.Topics[1].Retained {
		t.Errorf("heard %+v", h.Topics)
	}
}
