package app

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/killpoint"
)

const (
	// killStride in the environment is how many points lie between two that are tried. 1 tries
	// every one, which takes most of an hour.
	killStride = "FLITCH_KILL_STRIDE"
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
	stride := sizeFrom(t, killStride, someStride)
	count := killpoint.NewCount(0)
	unkilled, faults := telling(t, count).examine()
	if len(faults) > 0 {
		t.Fatalf("without a kill: %s", strings.Join(faults, "\n"))
	}
	if n := len(count.Seen()); n < fewPoints {
		t.Fatalf("%d points are too few: that proves nothing", n)
	}
	sum := &reckoning{at: map[string]int{}}
	var next, ended atomic.Int64
	t.Run("points", func(t *testing.T) {
		for range max(2, runtime.NumCPU()) {
			t.Run("", func(t *testing.T) {
				t.Parallel()
				for ended.Load() == 0 {
					if !sum.kill(t, 1+int(next.Add(1)-1)*stride, unkilled) {
						ended.Store(1)
					}
				}
			})
		}
	})
	sum.report(t, len(count.Seen()), stride)
}

func telling(t *testing.T, count *killpoint.Count) *tale {
	s := newTale(t, count)
	s.tell(s.whole())
	return s
}

// kill tells the tale with a kill at one point; false when it came to its end before that.
func (r *reckoning) kill(t *testing.T, n int, unkilled outcome) bool {
	count := killpoint.NewCount(n)
	s := telling(t, count)
	out, faults := s.examine()
	faults = append(append(faults, out.compare(unkilled)...), out.compareRecords(t, unkilled)...)
	at := count.Killed()
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(faults) > 0 {
		r.faulty++
		t.Errorf("killed at point %d, before %q:\n%s", n, at, strings.Join(faults[:min(len(faults), 5)], "\n"))
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

func (r *reckoning) report(t *testing.T, points, stride int) {
	t.Helper()
	if want := points / stride * 9 / 10; r.kills < want {
		t.Errorf("%d kills, want %d or more", r.kills, want)
	}
	var lines []string
	for what, n := range r.at {
		lines = append(lines, fmt.Sprintf("%5d before %s", n, what))
	}
	slices.Sort(lines)
	slices.Sort(r.again)
	t.Logf("%d kills at %d points, each %d-th; %d tales with a fault\n%s", r.kills, points, stride, r.faulty, strings.Join(lines, "\n"))
	t.Logf("readings lost 0 unless said above; %d of %d messages came twice, marked; from start to everything evaluated: median %s, worst %s",
		r.repeats, r.told, r.again[len(r.again)/2].Round(time.Millisecond), r.again[len(r.again)-1].Round(time.Millisecond))
}
