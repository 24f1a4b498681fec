package app

import (
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/killpoint"
	"flitch/ingest/mqtt/mqtttest"
)

const (
	// killStride in the environment is how many points lie between two that are tried. 1 tries
	// every one, which takes most of an hour.
	killStride = "FLITCH_KILL_STRIDE"
	// killFrom is the first point that is tried, to go on with a run that was ended.
	killFrom   = "FLITCH_KILL_FROM"
	someStride = 41 // a prime: the points come in patterns
	fewPoints  = 1000
)

// A reckoning is what the kills of a run came to.
type reckoning struct {
	mu      sync.Mutex
	kills   int
	at      map[string]int  // kills by what was about to be done
	again   []time.Duration // from a start after a kill to everything evaluated
	repeats int
	told    int // messages in all tales
	faulty  int
}

// Killed at every point of a small but whole tale, until a run ends without being killed:
// each statement, commit, write, sync, rename and removal, each acknowledgement and message,
// on its way and arrived. The tale is then told to its end, and has to come to the same as
// without the kill.
func TestKilledAtEveryPoint(t *testing.T) {
	exhaustive{lines: "points", stride: someStride}.run(t)
}

// The same behind mosquitto, which is not killed: what it has acknowledged no sensor sends
// again. Its short form is a kill about each thing that happens to a reading.
func TestKilledAtEveryPointBehindMosquitto(t *testing.T) {
	e := exhaustive{lines: "pointsbehind", stride: someStride, open: mosquitto}
	if os.Getenv(killStride) == "" {
		e.kinds = []string{"send CONNECT", "send SUBSCRIBE", "acknowledged, and the broker keeps it", "statement INSERT readings",
			"row in readings", "send PUBACK", "commit", "sync flitch.db-wal", "a message on its way"}
	}
	e.run(t)
}

func mosquitto(t *testing.T) *mqtttest.Mosquitto { return mqtttest.StartMosquitto(t) }

// An exhaustive is a tale that is killed at every point.
type exhaustive struct {
	lines  string // what its figures are called
	stride int    // unless the environment says another
	open   func(t *testing.T) *mqtttest.Mosquitto
	kinds  []string // points to kill at, each in the middle of all of its name; nil: by number
}

// broker is one for the tales that are told one after the other.
func (e exhaustive) broker(t *testing.T) *mqtttest.Mosquitto {
	t.Helper()
	if e.open == nil {
		return nil
	}
	return e.open(t)
}

func (e exhaustive) run(t *testing.T) {
	stride, from := sizeFrom(t, killStride, e.stride), sizeFrom(t, killFrom, 1)
	count := killpoint.NewCount(0)
	unkilled, faults := telling(t, count, e.broker(t)).examine()
	if len(faults) > 0 {
		t.Fatalf("without a kill: %s", strings.Join(faults, "\n"))
	}
	if n := len(count.Seen()); n < fewPoints {
		t.Fatalf("%d points are too few: that proves nothing", n)
	}
	sum := &reckoning{at: map[string]int{}}
	var next, ended atomic.Int64
	t.Run("points", func(t *testing.T) {
		for range max(2, runtime.GOMAXPROCS(0)) {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				broker := e.broker(t)
				for ended.Load() == 0 {
					n := int(next.Add(1) - 1)
					if e.kinds != nil && n >= len(e.kinds) || !sum.kill(t, broker, e.aim(n, from, stride, count.Seen()), unkilled) {
						ended.Store(1)
					}
				}
			})
		}
	})
	want := (len(count.Seen()) - from) / stride * 9 / 10
	if e.kinds != nil {
		want = len(e.kinds)
	}
	if sum.kills < want {
		t.Errorf("%d kills, want %d or more", sum.kills, want)
	}
	sum.report(t, e.lines, len(count.Seen()))
}

// aim chooses the n-th point to kill at, from 0, of those that were seen without a kill.
func (e exhaustive) aim(n, from, stride int, seen []string) *killpoint.Count {
	if e.kinds == nil {
		return killpoint.NewCount(from + n*stride)
	}
	all := 0
	for _, what := range seen {
		if what == e.kinds[n] {
			all++
		}
	}
	return killpoint.NewCountOf(e.kinds[n], all/2+1)
}

func telling(t *testing.T, count *killpoint.Count, broker *mqtttest.Mosquitto) *tale {
	s := newTale(t, count, broker)
	s.tell(s.whole())
	return s
}

// kill tells the tale with a kill at one point; false when it came to its end before that.
func (r *reckoning) kill(t *testing.T, broker *mqtttest.Mosquitto, count *killpoint.Count, unkilled outcome) bool {
	s := telling(t, count, broker)
	out, faults := s.examine()
	faults = append(append(faults, out.compare(unkilled)...), out.compareRecords(t, unkilled)...)
	at := count.Killed()
	if len(faults) == 0 {
		s.forget() // there are thousands
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(faults) > 0 {
		r.faulty++
		t.Errorf("killed at point %d, before %q:\n%s", len(count.Seen()), at, strings.Join(faults[:min(len(faults), 5)], "\n"))
	}
	if at == "" {
		return false
	}
	r.kills++
	r.at[kindOf(at)]++
	r.told += len(unkilled.received)
	r.repeats += len(out.received) - len(unkilled.received)
	if s.again > 0 {
		r.again = append(r.again, s.again)
	}
	return true
}

// kindOf is what a point is, without the file or the table.
func kindOf(point string) string {
	first, _, _ := strings.Cut(point, " ")
	if slices.Contains([]string{"statement", "row", "send", "acknowledged,", "answered,", "a", "the"}, first) {
		return point
	}
	return first
}

func (r *reckoning) report(t *testing.T, lines string, points int) {
	t.Helper()
	var kinds []string
	for what, n := range r.at {
		kinds = append(kinds, fmt.Sprintf("%5d before %s", n, what))
	}
	slices.Sort(kinds)
	slices.Sort(r.again)
	if len(r.again) == 0 {
		t.Fatal("no start after a kill was timed")
	}
	t.Logf("%d kills in a tale of %d points; %d tales with a fault\n%s", r.kills, points, r.faulty, strings.Join(kinds, "\n"))
	t.Logf("%d of %d messages came twice, marked; from a start after a kill to everything evaluated: median %s, worst %s",
		r.repeats, r.told, r.again[len(r.again)/2].Round(time.Millisecond), r.again[len(r.again)-1].Round(time.Millisecond))
	t.Logf("soak %s_injected %d kills >=8 -", lines, r.kills)
	t.Logf("soak %s_faulty %d tales 0 -", lines, r.faulty)
	t.Logf("soak %s_again_p50 %.3f s - -", lines, r.again[len(r.again)/2].Seconds())
	t.Logf("soak %s_again_worst %.3f s - -", lines, r.again[len(r.again)-1].Seconds())
}
