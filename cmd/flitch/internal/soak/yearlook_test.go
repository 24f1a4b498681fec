package soak

import (
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

var silent = slog.New(slog.NewTextHandler(io.Discard, nil))

// measureYear starts the real binary on a filled database, three times: as it is, with the
// disk's cache dropped if that may be done, and after a kill. Then it looks.
func measureYear(t *testing.T, folder, run string) {
	t.Helper()
	d, took := firstEvaluation(t, folder)
	line(run+"_start", took.Seconds(), "s", startIn)
	line(run+"_start_cpu", d.cpu(t).Seconds(), "s", startIn)
	d.Kill()
	if os.WriteFile("/proc/sys/vm/drop_caches", []byte("3"), 0) == nil { // as after a boot; root only
		d, took = firstEvaluation(t, folder)
		line(run+"_start_cold_after_kill", took.Seconds(), "s", startIn)
	} else {
		d, took = firstEvaluation(t, folder)
		line(run+"_start_after_kill", took.Seconds(), "s", startIn)
	}
	raw, err := mqtttest.Dial(d.broker, "year")
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	n := 0
	first := d.timed(t, "/batches/YEAR-3/chart.svg?width=1000", 10_000)
	line(run+"_chart_first", ms(first), "ms", 0)
	var glance, chart []time.Duration
	before := d.cpu(t)
	for range 300 {
		flood(t, d, raw, &n)
		glance = append(glance, d.timed(t, "/batches/YEAR-3/glance", 1000))
	}
	between := d.cpu(t)
	for range 101 {
		flood(t, d, raw, &n)
		chart = append(chart, d.timed(t, "/batches/YEAR-3/chart.svg?width=1000", 10_000))
	}
	after := d.cpu(t)
	line(run+"_glance_p50", ms(mqtttest.Quantile(glance, 0.5)), "ms", glanceIn)
	line(run+"_glance_p99", ms(mqtttest.Quantile(glance, 0.99)), "ms", glanceIn)
	line(run+"_chart_seven_days_p50", ms(mqtttest.Quantile(chart, 0.5)), "ms", chartIn)
	line(run+"_chart_seven_days_p99", ms(mqtttest.Quantile(chart, 0.99)), "ms", chartIn)
	// What the daemon itself worked for one, with the readings that came between: the machine may be
	// busy with other things, and the load says whether it was.
	line(run+"_glance_cpu", ms(between-before)/300, "ms", glanceIn)
	line(run+"_chart_seven_days_cpu", ms(after-between)/101, "ms", chartIn)
	line(run+"_load_of_machine", load(t), "waiting/core", 0)
	for path, name := range map[string]string{"/": "_home", "/api/glance": "_glances", "/metrics": "_metrics", "/batches/YEAR-3": "_batch"} {
		line(run+name+"_first", ms(d.timed(t, path, 100)), "ms", 0)
	}
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", d.pid()))
	if err != nil {
		t.Fatal(err)
	}
	line(run+"_rss", field(status, "VmRSS:")/1024, "MiB", yearRSS)
	line(run+"_rss_own", field(status, "RssAnon:")/1024, "MiB", 0)
	line(run+"_rss_peak", field(status, "VmHWM:")/1024, "MiB", 0)
	d.stop()
}

// firstEvaluation starts the binary and sends a reading as soon as there is a broker: the
// time from the start of the process until a reading that came after it is evaluated.
func firstEvaluation(t *testing.T, folder string) (*daemon, time.Duration) {
	t.Helper()
	d := start(t, folder)
	raw, err := mqtttest.Dial(d.broker, "first")
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	n := 0
	flood(t, d, raw, &n)
	evaluated := until(t.Context(), time.Minute, func() bool {
		f, err := d.figures()
		return err == nil && f["flitch_intake_stored_total"] > 0 && f["flitch_inputs_evaluated_total"] >= f["flitch_intake_stored_total"]
	})
	if !evaluated {
		t.Fatal("nothing was evaluated in a minute")
	}
	return d, time.Since(d.began)
}

// timed asks for a page of at least so many bytes and returns how long the whole answer took.
func (d *daemon) timed(t testing.TB, path string, least int) time.Duration {
	t.Helper()
	began := time.Now()
	response, err := quick.Get(d.page + path)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	took := time.Since(began)
	if err != nil || response.StatusCode != http.StatusOK || len(text) < least {
		t.Fatalf("%s: %d, %d bytes, %v: %.200s", path, response.StatusCode, len(text), err, text)
	}
	return took
}

// cpu is the time that the process has worked so far; Linux counts it in hundredths.
func (d *daemon) cpu(t testing.TB) time.Duration {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", d.pid()))
	if err != nil {
		t.Fatal(err)
	}
	fields := strings.Fields(string(text)[strings.LastIndexByte(string(text), ')')+1:])
	var user, system time.Duration
	if _, err := fmt.Sscan(fields[11]+" "+fields[12], &user, &system); err != nil { // 14 and 15 of proc(5), counted from the third
		t.Fatal(err)
	}
	return (user + system) * 10 * time.Millisecond
}

// load is how many wait for each core of the machine, of the last minute.
func load(t testing.TB) float64 {
	t.Helper()
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		t.Fatal(err)
	}
	var v float64
	if _, err := fmt.Sscan(string(text), &v); err != nil {
		t.Fatal(err)
	}
	return v / float64(runtime.NumCPU())
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
