package baddisk

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
)

// The controls of the tests of a disk that takes nothing: a flitch that acknowledges
// before it stores, and one that evaluates only what is stored, are seen by them.
func TestTheDiskTestsSeeWhatIsBroken(t *testing.T) {
	t.Parallel()
	t.Run("early", func(t *testing.T) {
		t.Parallel()
		// What comes while something else waits for the disk is held: then it does not lie about it.
		const tries = 5
		for try := 1; ; try++ {
			acked, stored, rang := controlled(t, early, 15*time.Second)
			if !rang {
				t.Error("the fire did not ring")
			}
			if acked && !stored {
				t.Logf("%d faults: read-only; a flitch that is early is seen", try)
				return
			}
			if try == tries {
				t.Fatalf("in %d tries it acknowledged nothing that it did not store", tries)
			}
		}
	})
	t.Run("blind", func(t *testing.T) {
		t.Parallel()
		acked, stored, rang := controlled(t, blind, 0)
		if acked && !stored {
			t.Error("it acknowledged what it did not store")
		}
		if rang {
			t.Error("the fire rang")
		}
		t.Log("1 fault: read-only; a flitch that is blind is seen")
	})
}

// controlled says a reading to a flitch whose disk has just become read-only, and waits so long for its
// acknowledgement once the fire rang, or should have.
func controlled(t *testing.T, broken build, more time.Duration) (acked, stored, rang bool) {
	t.Helper()
	disk := attachImage(t, image(t, filepath.Join(t.TempDir(), "card"), 24), "errors=remount-ro")
	w := newShed(t, disk).watchOf(broken, watchEvery)
	w.up()
	w.begin()
	first, _ := w.say("chamber", 60, 0)
	if !flitchtest.Within(patience, func() bool { return w.has("chamber", first) }) {
		t.Fatal("the first reading is not stored")
	}
	run(t, "mount", "-o", "remount,abort", disk.folder)
	at, answer := w.say("slow", 4.5, 1)
	lasts := 8 * time.Second // as long as one that is blind is watched
	if broken == early {
		lasts = patience // it ends when the fire rang
	}
	burning, stop := context.WithTimeout(t.Context(), lasts)
	defer stop()
	w.flames(burning)
	flitchtest.Within(more, func() bool { return isClosed(answer) })
	acked, stored = isClosed(answer), w.has("slow", at)
	rang = len(w.phone.of("H1", "raised")) > 0
	w.life.Kill()
	return acked, stored, rang
}
