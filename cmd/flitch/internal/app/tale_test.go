package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/killpoint"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// A tale is a small but whole story of a batch, told to a daemon that is killed at one
// point of it. Whoever tells it does what people and sensors do: what was not
// acknowledged is sent again, what was not answered is said again.
type tale struct {
	t     *testing.T
	dir   string
	now   time.Time // the daemon's clock stands here
	count *killpoint.Count
	phone *wrappedPhone
	life  *life
	out   *mqtttest.Raw // nil: not connected
	away  *outside      // nil: the embedded broker
	doing int           // step

	cut     int               // lives that were killed
	cutAt   []time.Time       // on the daemon's clock
	acked   map[string]string // readings that were acknowledged: probe and time, and the payload
	again   time.Duration     // from the start after the kill to everything evaluated
	early   bool              // control: a sensor's gateway that acknowledges before the daemon has
	records map[string][]byte // as they were exported
}

const taleConfig = `[site]
name = "Plover Shed"
zone = "UTC"
database = "flitch.db"
[page]
listen = "127.0.0.1:0"
[broker]
%s
[[place]]
name = "alder"
title = "Alder"
kind = "fridge"
[[place]]
name = "kettle"
title = "Kettle"
kind = "smoker"
fuel = "electric"
[backup]
folder = "stick"
every = "1h"
keep = 2
[[channel]]
name = "phone"
kind = "http"
url = %q
`

const taleProbe = `[[probe]]
name = %q
place = %q
measures = %q
topic = %q
value = "/v"
time = "/t"
time_format = "unix-ms"
unit = "C"
interval = "1m"
`

// newTale prepares a tale, behind an outside broker if there is one.
func newTale(t *testing.T, count *killpoint.Count, broker *mqtttest.Mosquitto) *tale {
	t.Helper()
	s := &tale{t: t, dir: t.TempDir(), now: dawn, count: count, acked: map[string]string{}, records: map[string][]byte{}}
	s.phone = newWrappedPhone(t, count)
	embedded := "mode = \"embedded\"\nlisten = \"127.0.0.1:0\""
	if broker != nil {
		s.away = newOutside(t, broker)
		embedded = s.away.config()
	}
	text := fmt.Sprintf(taleConfig, embedded, s.phone.server.URL)
	for _, p := range [][]any{{"slow", "alder", "product"}, {"chamber", "kettle", "chamber"}, {"core", "kettle", "core"}} {
		text += fmt.Sprintf(taleProbe, append(p, "shop/"+p[0].(string))...)
	}
	if err := os.WriteFile(s.config(), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(s.database(), emptyDatabase(), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.give)
	return s
}

// emptyDatabase is made once. Made for each tale, its lock would now and then be inherited,
// for a moment, by a daemon that another tale starts at the same time.
var emptyDatabase = sync.OnceValue(func() []byte {
	dir, err := os.MkdirTemp("", "flitch-tale-*")
	if err != nil {
		return nil
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "flitch.db")
	if store.Create(path) != nil {
		return nil
	}
	data, _ := os.ReadFile(path)
	return data
})

func (s *tale) config() string   { return filepath.Join(s.dir, "flitch.toml") }
func (s *tale) database() string { return filepath.Join(s.dir, "flitch.db") }

// A step is one thing that happens. It is done again when the daemon was killed in it.
type step func() error

// tell goes through the steps, and on after a kill. It reports whether there was one.
func (s *tale) tell(steps []step) bool {
	s.t.Helper()
	for i := 0; i < len(steps); {
		err := s.alive()
		if s.doing = i; err == nil {
			err = steps[i]()
		}
		if err == nil {
			i++
			continue
		}
		if s.cut == 0 && s.count.Killed() != "" {
			<-s.life.ended // it is on its way
		}
		if !s.life.over() {
			s.t.Fatalf("step %d, after %d kills: %v, and the daemon lives:\n%s", i, s.cut, err, s.life.stacks())
		}
		s.buried()
	}
	return s.count.Killed() != ""
}

// alive sees to it that a daemon runs that has evaluated all it has.
func (s *tale) alive() error {
	if s.life != nil {
		return nil
	}
	began := time.Now()
	s.away.begins()
	s.life = newLife(s.t, s.config(), s.now, s.watcher())
	if err := s.life.ready(); err != nil {
		return err
	}
	if err := s.away.delivered(s.life); err != nil {
		return err
	}
	if err := s.settle(); err != nil {
		return err
	}
	if s.cut > 0 && s.again == 0 {
		s.again = time.Since(began)
	}
	return nil
}

// watcher counts points until the kill; what comes after it runs as ever.
func (s *tale) watcher() *killpoint.Count {
	if s.count.Killed() != "" {
		return nil
	}
	return s.count
}

// buried ends a life that was killed. One that ended in another way is a fault.
func (s *tale) buried() {
	s.t.Helper()
	s.life.bury(true)
	s.give()
	s.cut++
	s.cutAt = append(s.cutAt, s.now)
	if s.cut > 1 {
		s.t.Fatalf("%d kills in one tale", s.cut)
	}
	s.phone.died()
}

// give lets go of everything.
func (s *tale) give() {
	if s.out != nil {
		s.out.Close()
	}
	if s.life != nil {
		s.life.drop()
	}
	s.out, s.life = nil, nil
}

// forget removes what a tale left behind.
func (s *tale) forget() {
	os.RemoveAll(s.dir)
	if s.away != nil {
		s.away.relay.Close()
	}
}

// at moves the clock to a time after dawn, and waits until all is evaluated and told.
func (s *tale) at(after time.Duration) step {
	return func() error {
		s.now = dawn.Add(after)
		return s.settle()
	}
}

func (s *tale) settle() error {
	if err := s.life.step(s.now); err != nil {
		return err
	}
	s.phone.settled()
	return nil
}

// post says something to the page, with the same identity each time, and waits.
func (s *tale) post(path string, body map[string]any) step {
	return func() error {
		text, err := json.Marshal(body)
		if err != nil {
			return err
		}
		answer, err := http.Post(s.life.page+path, "application/json", bytes.NewReader(text))
		if err != nil {
			return err
		}
		defer answer.Body.Close()
		said, err := io.ReadAll(answer.Body)
		if err != nil {
			return err
		}
		if answer.StatusCode != http.StatusOK {
			s.t.Errorf("%s %s: %s %s", path, text, answer.Status, said)
		}
		if s.count.Here("answered, and the person has not seen it") {
			return errKilled
		}
		return s.settle()
	}
}

func (s *tale) command(id, kind string, more map[string]any) step {
	body := map[string]any{"id": id, "kind": kind, "batch": "PS-02", "by": "T.V."}
	for k, v := range more {
		body[k] = v
	}
	return s.post("/api/commands", body)
}

// answer says "I am on it" to the alarms that stand.
func (s *tale) answer() error {
	duty := answerer{page: strings.TrimPrefix(s.life.page, "http://")}
	for _, number := range duty.standing(context.Background()) {
		if err := s.command(fmt.Sprintf("answer-%d", number), "acknowledge", map[string]any{"alarm": number, "batch": ""})(); err != nil {
			return err
		}
	}
	return s.settle() // nobody stood, or the daemon is gone
}

// probe adds a probe by the page, unless it was added before the kill, and starts anew as
// flitch run does then.
func (s *tale) probe() error {
	if text, err := os.ReadFile(strings.TrimSuffix(s.config(), ".toml") + ".probes.toml"); err != nil || !bytes.Contains(text, []byte("grate")) {
		if err := s.post("/api/probes", map[string]any{"name": "grate", "place": "kettle", "measures": "chamber", "topic": "shop/grate", "value": "/v", "time": "/t", "time_format": "unix-ms", "unit": "C", "interval": "1m", "by": "T.V."})(); err != nil {
			return err
		}
	}
	return s.stop()
}

// stop ends the daemon as a service is ended; the next step starts it anew.
func (s *tale) stop() error {
	if err := s.life.end(); err != nil {
		return err
	}
	s.life.bury(false)
	s.give()
	return nil
}

// pack moves what was sealed by the stop into blocks.
func (s *tale) pack() error { return s.life.pack() }

// copied waits for a backup of this hour.
func (s *tale) copied() error {
	for deadline := time.Now().Add(30 * time.Second); ; {
		all, err := backup.List(filepath.Join(s.dir, "stick"))
		if err == nil && len(all) > 0 && !all[0].At.Before(s.now.Truncate(time.Hour)) {
			return nil
		}
		select {
		case <-s.life.ended:
			return errKilled
		default:
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("no backup of %s: %v %v", s.now, all, err)
		}
		<-time.After(2 * time.Millisecond) // another process works
	}
}

// export keeps the record as it comes.
func (s *tale) export(format string) step {
	return func() error {
		answer, err := http.Get(s.life.page + "/batches/PS-02/record." + format)
		if err != nil {
			return err
		}
		defer answer.Body.Close()
		text, err := io.ReadAll(answer.Body)
		if err != nil {
			return err
		}
		if answer.StatusCode != http.StatusOK {
			return fmt.Errorf("record.%s: %s %s", format, answer.Status, text)
		}
		s.records[format] = text
		return nil
	}
}

// whole is the tale: readings of two probes and of one that is added, one twice, one that is
// rubbish, commands, stages, alarms that ring and are answered, seals, blocks, backups, a stop,
// the end of the batch and its record.
func (s *tale) whole() []step {
	rubbish := func() error { return s.say("core", "nan", "rubbish") }
	steps := []step{
		s.at(0), s.copied, s.read("slow", 3), s.read("chamber", 60), s.read("core", 50), s.at(0),
		s.command("new", "new", map[string]any{"new": map[string]any{"plan": raw, "fridge": "alder", "smoker": "kettle",
			"pieces": []map[string]any{{"name": "A", "green_g": 2268, "thickness_mm": 38}}}}),
		s.at(time.Minute), s.read("slow", 3), s.read("slow", 3), rubbish, s.at(time.Minute),
	}
	for _, stage := range []string{"rinse", "dry", "smoke"} {
		steps = append(steps, s.command(stage, "stage", map[string]any{"stage": stage}))
	}
	for n, core := range []float64{50, 50, 54, 54, 54} {
		at := s.at(time.Duration(n+2) * time.Minute)
		steps = append(steps, at, s.read("chamber", 60), s.read("core", core), at)
	}
	steps = append(steps, s.at(7*time.Minute), s.answer, s.at(13*time.Minute), s.probe, s.pack,
		s.at(14*time.Minute), s.read("grate", 61), s.read("core", 55), s.at(15*time.Minute), s.at(61*time.Minute), s.copied, s.answer,
		s.command("note", "note", map[string]any{"text": "rain and wind"}),
		s.absent, s.command("held", "disposition", map[string]any{"disposition": "hold for advice", "text": "asked the extension"}),
		s.command("close", "close", map[string]any{"text": "eaten"}),
		s.at(62*time.Minute), s.export("csv"), s.export("json"), s.stop)
	return steps
}

// points counts the points of a list by what they are, for people.
func points(seen []string) string {
	count := map[string]int{}
	for _, what := range seen {
		count[what]++
	}
	var lines []string
	for what, n := range count {
		lines = append(lines, fmt.Sprintf("%5d  %s", n, what))
	}
	slices.SortFunc(lines, func(a, b string) int { return strings.Compare(b, a) })
	return strings.Join(lines, "\n")
}
