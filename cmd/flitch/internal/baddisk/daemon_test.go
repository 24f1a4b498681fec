package baddisk

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
	"flitch/ingest/mqtt/mqtttest"
)

// shopFile is the configuration. %s: database, page, broker, phone.
const shopFile = `[site]
name = "Plover Shed"
zone = "UTC"
units = "C"
database = %q

[page]
listen = %q

[broker]
mode = "embedded"
listen = %q
anonymous = true

[[place]]
name = "alder"
kind = "fridge"

[[place]]
name = "kettle"
kind = "smoker"
fuel = "electric"

[[probe]]
name = "slow"
place = "alder"
measures = "product"
topic = "shop/slow"
value = "/v"
time = "/t"
time_format = "unix-ms"
unit = "C"
interval = "60s"

[[probe]]
name = "chamber"
place = "kettle"
measures = "chamber"
topic = "shop/chamber"
value = "/v"
time = "/t"
time_format = "unix-ms"
unit = "C"
interval = "60s"

[[probe]]
name = "core"
place = "kettle"
measures = "core"
topic = "shop/core"
value = "/v"
time = "/t"
time_format = "unix-ms"
unit = "C"
interval = "60s"

[[channel]]
name = "phone"
kind = "http"
level = "tell"
url = %q
`

// patience is how long a real process may take for anything.
const patience = 60 * time.Second

// A shed is where the daemon is run: a folder for its configuration that nothing happens
// to, its database on the disk under test, and a phone.
type shed struct {
	t        *testing.T
	folder   string
	database string
	page     string // host:port
	broker   string
	phone    *phone
}

// newShed makes an empty database on the disk.
func newShed(t *testing.T, disk *mount) *shed {
	t.Helper()
	s := &shed{t: t, folder: t.TempDir(), database: disk.path("flitch.db"), page: mqtttest.FreeAddress(t), broker: mqtttest.FreeAddress(t), phone: newPhone(t)}
	text := fmt.Sprintf(shopFile, s.database, s.page, s.broker, s.phone.server.URL)
	if err := os.WriteFile(s.config(), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	s.must("init", "--database", s.database)
	return s
}

func (s *shed) config() string { return filepath.Join(s.folder, "flitch.toml") }

// must runs a command of flitch that has to work.
func (s *shed) must(args ...string) string {
	s.t.Helper()
	command := exec.Command(binary(s.t, full), args...)
	var complaint bytes.Buffer
	command.Stderr = &complaint
	out, err := command.Output()
	if err != nil {
		s.t.Fatalf("flitch %q: %v\n%s%s", args, err, out, complaint.String())
	}
	return string(out)
}

// A life is one run of the daemon.
type life struct{ *flitchtest.Life }

// start runs flitch and waits until it says where its page is.
func (s *shed) start(b build) *life {
	s.t.Helper()
	l := s.launch(b, nil)
	if !l.until(l.open) {
		s.t.Fatalf("flitch did not start:\n%s", l.Said())
	}
	return l
}

// launch does not wait.
func (s *shed) launch(b build, environment []string) *life {
	s.t.Helper()
	command := exec.Command(binary(s.t, b), "run", "--config", s.config())
	command.Env = append(append(os.Environ(), weakEnv+"="+b.word), environment...)
	command.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	return &life{flitchtest.Start(s.t, command)}
}

// open is whether it has said where its broker is, which it does last.
func (l *life) open() bool { _, ok := l.Line("broker "); return ok }

// end is SIGTERM; the daemon has to end without an error.
func (l *life) end() { l.End(syscall.SIGTERM, patience/2) }

// until asks again and again, as long as patience lasts and flitch runs.
func (l *life) until(now func() bool) bool { return l.Until(patience, now) }

// post sends a command as the page does.
func (s *shed) post(command map[string]any) error {
	body, err := json.Marshal(command)
	if err != nil {
		return err
	}
	response, err := http.Post("http://"+s.page+"/api/commands", "application/json", bytes.NewReader(body))
	if err != nil {
		return err
	}
	defer response.Body.Close()
	if text, _ := io.ReadAll(response.Body); response.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", response.Status, text)
	}
	return nil
}

// begin starts a batch that is being smoked.
func (s *shed) begin() {
	s.t.Helper()
	commands := []map[string]any{{"kind": "new", "new": map[string]any{"plan": "belly-dry-cured", "fridge": "alder", "smoker": "kettle",
		"pieces": []map[string]any{{"name": "A", "green_g": 2268, "thickness_mm": 38}}}}}
	for _, stage := range []string{"rinse", "dry", "smoke"} {
		commands = append(commands, map[string]any{"kind": "stage", "stage": stage})
	}
	for i, c := range commands {
		c["id"], c["batch"], c["by"] = fmt.Sprintf("begin-%d", i), "PS-02", "T.V."
		if err := s.post(c); err != nil {
			s.t.Fatalf("%v: %v", c["kind"], err)
		}
	}
}

// get asks the page or the interface; "" when it does not answer well within a while.
func (s *shed) get(path string) string {
	client := http.Client{Timeout: 5 * time.Second}
	response, err := client.Get("http://" + s.page + path)
	if err != nil {
		return ""
	}
	defer response.Body.Close()
	text, err := io.ReadAll(bufio.NewReader(response.Body))
	if err != nil {
		return ""
	}
	return string(text)
}

// A phone notes what it is sent, and when.
type phone struct {
	server *httptest.Server
	mu     sync.Mutex
	got    []ring
}

// A ring is one message as it reached the phone.
type ring struct {
	Alarm   int64  `json:"alarm"`
	Message int64  `json:"message"`
	Kind    string `json:"kind"`
	Entry   string `json:"entry"`
	Level   string `json:"level"`
	Title   string `json:"title"`
	Text    string `json:"text"`
	came    time.Time
}

func newPhone(t *testing.T) *phone {
	p := &phone{}
	p.server = httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		m := ring{came: time.Now()}
		if json.NewDecoder(r.Body).Decode(&m) == nil {
			p.mu.Lock()
			p.got = append(p.got, m)
			p.mu.Unlock()
		}
	}))
	t.Cleanup(p.server.Close)
	return p
}

// all returns every message so far.
func (p *phone) all() []ring {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]ring(nil), p.got...)
}

// of are the messages of an entry of the catalogue.
func (p *phone) of(entry, kind string) (out []ring) {
	for _, m := range p.all() {
		if m.Entry == entry && m.Kind == kind {
			out = append(out, m)
		}
	}
	return out
}
