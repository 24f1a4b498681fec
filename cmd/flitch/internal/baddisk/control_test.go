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
	for _, broken := range []build{early, blind} {
		t.Run(broken.word, func(t *testing.T) {
			t.Parallel()
			disk := attachImage(t, image(t, filepath.Join(t.TempDir(), "card"), 24), "errors=remount-ro")
			w := newShed(t, disk).watchOf(broken, watchEvery)
			w.up()
			w.begin()
			// What comes while another reading waits for the disk is held, and a flitch that is early
			// does not lie about it: the first has to be stored.
			first, _ := w.say("chamber", 60, 0)
			if !flitchtest.Within(patience, func() bool { return w.has("chamber", first) }) {
				t.Fatal("the first reading is not stored")
			}
			run(t, "mount", "-o", "remount,abort", disk.folder)
			at, acked := w.say("slow", 4.5, 1)
			lasts := 8 * time.Second // as long as one that is blind is watched
			if broken == early {
				lasts = patience // it ends when the fire rang
			}
			burning, stop := context.WithTimeout(t.Context(), lasts)
			defer stop()
			w.flames(burning)
			if broken == early {
				flitchtest.Within(patience, func() bool { return isClosed(acked) }) // it may be on its way
			}
			rang := len(w.phone.of("H1", "raised")) > 0
			if lied := isClosed(acked) && !w.has("slow", at); lied != (broken == early) {
				t.Errorf("acknowledged and not stored: %v", lied)
			}
			if rang == (broken == blind) {
				t.Errorf("the fire rang: %v", rang)
			}
			t.Logf("1 fault: read-only; a flitch that is %s is seen", broken.word)
			w.life.Kill()
		})
	}
}
