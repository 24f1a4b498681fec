package ship

import (
	"encoding/json"
	"net/http"
	"net/url"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A prometheus is one that runs: Debian's.
type prometheus struct {
	t       *testing.T
	flags   []string
	address string
	cmd     *exec.Cmd
}

func newPrometheus(t *testing.T, config string, flags ...string) *prometheus {
	t.Helper()
	file := filepath.Join(t.TempDir(), "prometheus.yml")
	write(t, file, config)
	p := &prometheus{t: t, address: "127.0.0.1:" + freePort(t)}
	p.flags = append([]string{"--config.file=" + file, "--web.listen-address=" + p.address}, flags...)
	t.Cleanup(p.stop)
	p.start()
	return p
}

func (p *prometheus) start() {
	p.t.Helper()
	p.cmd = exec.Command("prometheus", p.flags...)
	if err := p.cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	eventually(p.t, "the prometheus at "+p.address+" is ready", func() bool {
		r, err := http.Get("http://" + p.address + "/-/ready")
		if err != nil {
			return false
		}
		r.Body.Close()
		return r.StatusCode == http.StatusOK
	})
}

func (p *prometheus) stop() {
	if p.cmd == nil {
		return
	}
	_ = p.cmd.Process.Signal(syscall.SIGTERM)
	_ = p.cmd.Wait() // its own word on the signal is of no use here
	p.cmd = nil
}

// A point is a value at a moment, in seconds.
type point struct{ at, value float64 }

// asks returns the samples of the only series that a question finds; nil: there is not one.
func (p *prometheus) asks(question string) (out []point) {
	r, err := http.Get("http://" + p.address + "/api/v1/query?query=" + url.QueryEscape(question))
	if err != nil {
		return nil
	}
	defer r.Body.Close()
	var said struct {
		Data struct {
			Result []struct {
				Value  [2]any   `json:"value"`
				Values [][2]any `json:"values"`
			}
		}
	}
	if json.NewDecoder(r.Body).Decode(&said) != nil || len(said.Data.Result) != 1 {
		return nil
	}
	one := said.Data.Result[0]
	if len(one.Values) == 0 {
		one.Values = [][2]any{one.Value}
	}
	for _, v := range one.Values {
		text, _ := v[1].(string)
		value, err := strconv.ParseFloat(text, 64)
		if err != nil {
			p.t.Fatalf("%s: %v", question, v)
		}
		out = append(out, point{v[0].(float64), value})
	}
	return out
}

// eventually waits until something is so.
func eventually(t *testing.T, what string, so func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !so(); {
		if time.Now().After(end) {
			t.Fatalf("not within %s: %s", patience, what)
		}
		<-time.After(50 * time.Millisecond)
	}
}

// TestMetricsAreWrittenOn: the sample for a site, by a real Prometheus, into a real store. While the
// store is away the site goes on, and what it saw meanwhile is in the store afterwards.
func TestMetricsAreWrittenOn(t *testing.T) {
	larder := filepath.Join(t.TempDir(), "larder")
	config := filepath.Join(larder, "flitch.toml")
	output(t, command(own, "init", larder))
	elsewhere(t, config)
	page := regexp.MustCompile(`\[page\]\nlisten = "([^"]*)"`).FindStringSubmatch(read(t, config))
	if page == nil {
		t.Fatal("the sample has no page")
	}
	d := start(t, command(own, "run", "--config", config))
	office := newPrometheus(t, "", "--web.enable-remote-write-receiver", "--storage.tsdb.path="+t.TempDir())
	text := read(t, deploy, "prometheus", "site.yml")
	for _, change := range [][2]string{
		{"127.0.0.1:8411", page[1]},
		{"https://metrics.example/api/v1/write", "http://" + office.address + "/api/v1/write"},
		{"    basic_auth: { username: larder, password_file: /etc/prometheus/office.password }\n", ""},
		{"scrape_interval: 15s", "scrape_interval: 1s"}, // the rest of the sample as it is
		{"max_backoff: 5m", "max_backoff: 1s"},
	} {
		if strings.Count(text, change[0]) != 1 {
			t.Fatalf("%q stands %d times in the sample", change[0], strings.Count(text, change[0]))
		}
		text = strings.Replace(text, change[0], change[1], 1)
	}
	rules := filepath.Join(t.TempDir(), "flitch.rules.yml")
	write(t, rules, read(t, deploy, "prometheus", "flitch.rules.yml"))
	text = strings.Replace(text, "- flitch.rules.yml", "- "+rules, 1)
	site := newPrometheus(t, text, "--storage.tsdb.path="+t.TempDir())

	const stored = `flitch_intake_stored_total{site="larder", job="flitch"}`
	is := func(want float64) func() bool {
		return func() bool { got := office.asks(stored); return len(got) == 1 && got[0].value == want }
	}
	d.publish()
	eventually(t, "the office knows of one reading", is(1))
	if up := office.asks(`up{site="larder"}`); len(up) != 1 || up[0].value != 1 {
		t.Errorf("up is %v", up)
	}
	if other := office.asks(`count({__name__!~"flitch_.*|up|process_resident_memory_bytes|go_goroutines"})`); other != nil {
		t.Errorf("%v more series are written on than the sample says", other)
	}
	office.stop()
	away := float64(time.Now().UnixMilli()) / 1000
	d.publish()
	eventually(t, "the site saw the second", func() bool {
		got := site.asks(stored[:strings.Index(stored, "{")])
		return len(got) == 1 && got[0].value == 2
	})
	back := float64(time.Now().UnixMilli()) / 1000
	office.start()
	eventually(t, "the office knows of the second", is(2))
	d.publish()
	eventually(t, "the office knows of the third", is(3))
	meanwhile := 0
	for _, one := range office.asks(stored + "[5m]") {
		if one.at > away && one.at < back {
			meanwhile++
		}
	}
	if meanwhile == 0 {
		t.Errorf("the store was away for %.1f s, and nothing of that is in it", back-away)
	}
	t.Logf("%d samples of a time in which the store was away for %.1f s", meanwhile, back-away)
	d.stop()
}
