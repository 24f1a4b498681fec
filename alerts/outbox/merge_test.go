package outbox

import (
	"math/rand/v2"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitch/alerts"
)

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

func TestMergeProperties(t *testing.T) {
	now := time.Date(2031, 3, 4, 6, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		var due []alerts.QueuedMessage
		at := now.Add(-24 * time.Hour)
		for i := range rapid.IntRange(0, 60).Draw(t, "n") {
			at = at.Add(time.Duration(rapid.IntRange(0, 24).Draw(t, "gap")) * time.Minute)
			due = append(due, alerts.QueuedMessage{Message: alerts.Message{
				ID: int64(i + 1), Alarm: int64(rapid.IntRange(0, 3).Draw(t, "alarm")), Due: at,
				Level: alerts.Level(rapid.IntRange(int(alerts.Tell), int(alerts.Ring)).Draw(t, "level")),
			}})
		}
		gone := map[int64]int64{}
		for _, g := range merge(due, now) {
			gone[g.old] = g.by
		}
		kept, rings, hadRing := map[int64]int{}, map[int64]int{}, map[int64]bool{}
		for _, m := range due {
			by, merged := gone[m.ID]
			if _, chained := gone[by]; merged && (chained || by <= m.ID || m.Alarm == 0 || now.Sub(m.Due) < mergeAfter) {
				t.Fatalf("message %+v gave way to %d", m, by)
			}
			if m.Level == alerts.Ring {
				hadRing[m.Alarm] = true
			}
			if !merged && now.Sub(m.Due) >= mergeAfter {
				kept[m.Alarm]++
			}
			if !merged && m.Level == alerts.Ring {
				rings[m.Alarm]++
			}
		}
		for alarm := range hadRing {
			if rings[alarm] == 0 {
				t.Fatalf("no ring is left of alarm %d", alarm)
			}
		}
		for alarm, n := range kept {
			if alarm != 0 && n > 2 {
				t.Fatalf("%d old messages of alarm %d are left", n, alarm)
			}
		}
	})
}

func TestBackoffBounds(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	b := Backoff{}.complete()
	for attempts := 1; attempts < 2000; attempts++ {
		d := b.wait(attempts, 0, random)
		if d < b.First*7/8 || d > b.Max*9/8 {
			t.Fatalf("wait after %d attempts is %s", attempts, d)
		}
		if d := b.wait(attempts, 30*time.Minute, random); d < 30*time.Minute {
			t.Fatalf("asked for 30 min, waits %s", d)
		}
		if d := b.wait(attempts, 48*time.Hour, random); d != b.MaxAfter {
			t.Fatalf("asked for 48 h, waits %s, want no more than %s", d, b.MaxAfter)
		}
	}
}

func TestJitterIsSeeded(t *testing.T) {
	waits := func(seed uint64) (w [8]time.Duration) {
		random := rand.New(rand.NewPCG(seed, 0))
		for i := range w {
			w[i] = Backoff{}.complete().wait(3, 0, random)
		}
		return w
	}
	one, again, other := waits(1), waits(1), waits(2)
	if one != again || one == other {
		t.Error("the jitter does not follow its seed")
	}
}
