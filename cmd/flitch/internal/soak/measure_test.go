package soak

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A measure is one thing that has to stay flat.
type measure struct {
	name  string
	unit  string
	limit float64 // of its median in the last quarter; 0: none
	allow allowance
}

// measures are what is looked at in each run. Limits: own memory is the aim for a small board, the
// rest is far from what would hurt (proposals). Of rss a half and more are pages of the program,
// which the system shares and takes back when it wants them: as many as it likes to map.
var measures = []measure{
	{"rss", "MiB", 0, allowance{3, 0.08}},
	{"own", "MiB", 40, allowance{3, 0.08}},
	{"heap", "MiB", 32, allowance{1.5, 0.12}},
	{"handles", "", 100, allowance{2, 0}},
	{"goroutines", "", 200, allowance{4, 0}},
	{"threads", "", 40, allowance{3, 0}},
	{"lag", "s", 2, allowance{0.25, 0}},
	{"c_heaps", "", 2, allowance{1, 0}},
	{"wal", "MiB", 16, allowance{1, 0.1}},
}

// A course is what was measured, by name.
type course map[string][]point

func (c course) add(name string, at time.Duration, value float64) {
	c[name] = append(c[name], point{at, value})
}

const mib = 1 << 20

// look measures a daemon from outside: /proc, its figures, its files.
func (c course) look(d *daemon, at time.Duration) error {
	figures, err := d.figures()
	if err != nil {
		return err
	}
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", d.pid()))
	if err != nil {
		return err
	}
	handles, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", d.pid()))
	if err != nil {
		return err
	}
	c.add("rss", at, field(status, "VmRSS:")/1024)
	maps, err := os.ReadFile(fmt.Sprintf("/proc/%d/maps", d.pid()))
	if err != nil {
		return err
	}
	c.add("c_heaps", at, cHeaps(string(maps)))
	c.add("own", at, field(status, "RssAnon:")/1024)
	c.add("threads", at, field(status, "Threads:"))
	c.add("handles", at, float64(len(handles)))
	c.add("heap", at, figures["go_gc_heap_live_bytes"]/mib)
	c.add("goroutines", at, figures["go_goroutines"])
	c.add("lag", at, figures["flitch_input_lag_seconds"])
	c.add("stored", at, figures["flitch_intake_stored_total"])
	c.files(d.database(), at)
	return nil
}

// files adds the sizes of a database and of its log.
func (c course) files(database string, at time.Duration) {
	c.add("database", at, size(database)/mib)
	c.add("wal", at, size(database+"-wal")/mib)
}

func size(path string) float64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return float64(info.Size())
}

// cHeaps counts the heaps that the C library has beside its first: 64 MiB of addresses from a
// multiple of that on, of which the beginning can be written.
func cHeaps(maps string) (n float64) {
	const room = 64 * mib
	var start, end, before uint64
	var may string
	for line := range strings.Lines(maps) {
		if _, err := fmt.Sscanf(line, "%x-%x %s", &start, &end, &may); err != nil {
			continue
		}
		if may == "---p" && before > 0 && end == before+room {
			n++
		}
		before = 0
		if may == "rw-p" && start%room == 0 {
			before = start
		}
	}
	return n
}

// field reads one line of /proc/PID/status.
func field(text []byte, name string) float64 {
	_, rest, _ := strings.Cut(string(text), name)
	var v float64
	_, _ = fmt.Sscan(rest, &v)
	return v
}

// figures are the sums of what Prometheus would read, by name without labels.
func (d *daemon) figures() (map[string]float64, error) {
	response, err := http.Get(d.page + "/metrics")
	if err != nil {
		return nil, err
	}
	defer response.Body.Close()
	return sums(response.Body)
}

func sums(in io.Reader) (map[string]float64, error) {
	out := map[string]float64{}
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		line := lines.Text()
		end := strings.LastIndexByte(line, ' ')
		if strings.HasPrefix(line, "#") || end < 0 {
			continue
		}
		name, _, _ := strings.Cut(line[:end], "{")
		value, err := strconv.ParseFloat(line[end+1:], 64)
		if err != nil {
			return nil, fmt.Errorf("%q: %w", line, err)
		}
		out[name] += value
	}
	if err := lines.Err(); err != nil || len(out) == 0 {
		return nil, fmt.Errorf("%d figures: %w", len(out), err)
	}
	return out, nil
}

// report judges every measure and prints two lines of each: where it stands, and how far it
// rose. The database may grow, by the reading and not faster. Limits hold for a daemon that is
// alone in its process; where it is not, the test's own memory is in its too, and may rise by twice
// as much. What the heap holds is judged alike. A run that is over before the process is warm shows
// no small leak: there each may rise by three times as much.
func (c course) report(t *testing.T, run string, lasts time.Duration, alone bool) {
	t.Helper()
	if folder := os.Getenv("FLITCH_SOAK_COURSE"); folder != "" {
		c.keep(t, filepath.Join(folder, run+".csv"))
	}
	for _, m := range measures {
		if !alone {
			m.limit = 0
		}
		if !alone && (m.name == "rss" || m.name == "own") {
			m.allow = m.allow.times(2)
		}
		if lasts < warmUp {
			m.allow = m.allow.times(3)
		}
		j, err := judge(c[m.name], lasts, m.allow)
		if err != nil {
			t.Errorf("%s: %v", m.name, err)
			continue
		}
		t.Logf("%s: %v", m.name, j)
		line(run+"_"+m.name, j.last, m.unit, m.limit)
		line(run+"_"+m.name+"_rise", j.rise, m.unit, j.allowed)
		if !j.flat() {
			t.Errorf("%s is not flat: %v", m.name, j)
		}
		if m.limit > 0 && j.last > m.limit {
			t.Errorf("%s is %.4g %s, at most %.4g", m.name, j.last, m.unit, m.limit)
		}
	}
	c.growth(t, run, lasts)
}

// growth compares what a reading takes in the database in the two halves of the run.
func (c course) growth(t *testing.T, run string, lasts time.Duration) {
	t.Helper()
	size, stored := c["database"], c["stored"]
	if len(size) < 2*fewest {
		t.Fatal("the database was not looked at")
	}
	half, last := len(size)/2, len(size)-1
	first := perReading(size[half], size[fewest], stored[half], stored[fewest])
	second := perReading(size[last], size[half], stored[last], stored[half])
	allowed := max(1.25*first, 150) // a page of 4 KiB is a big step in a short run: proposal
	if lasts < warmUp {
		// The file grows at a checkpoint, by all that was new since the last one. A run that sees one
		// or two of them says whether it is megabytes.
		allowed += mib / max(1, stored[last].value-stored[half].value)
	}
	line(run+"_database", size[last].value, "MiB", 0)
	line(run+"_database_growth", second, "B/reading", allowed)
	if second > allowed {
		t.Errorf("the database grew by %.0f B a reading in the first half and by %.0f in the second, %.0f allowed", first, second, allowed)
	}
}

func perReading(size, size0, stored, stored0 point) float64 {
	return (size.value - size0.value) * mib / max(1, stored.value-stored0.value)
}

// keep writes all points as CSV, for a picture.
func (c course) keep(t *testing.T, path string) {
	t.Helper()
	var text strings.Builder
	for name, series := range c {
		for _, p := range series {
			fmt.Fprintf(&text, "%s,%.1f,%g\n", name, p.at.Seconds(), p.value)
		}
	}
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		t.Error(err)
	}
}

// line prints what deploy/soak.sh reads; a limit of 0 is none.
func line(name string, value float64, unit string, limit float64) {
	if unit == "" {
		unit = "count"
	}
	if limit == 0 {
		fmt.Printf("soak %s %.4g %s - -\n", name, value, unit)
		return
	}
	fmt.Printf("soak %s %.4g %s %.4g %.2f\n", name, value, unit, limit, value/limit)
}

// atLeast prints a line of a value that has a lower limit.
func atLeast(name string, value float64, unit string, limit float64) {
	fmt.Printf("soak %s %.4g %s >=%.4g %.2f\n", name, value, unit, limit, value/limit)
}
