package baddisk

import (
	"context"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
)

// exhaust fills the disk until a reading is not acknowledged any more, and returns that
// reading. The room that flitch had kept goes first: until then one that waits is on its way.
func (w *watched) exhaust(disk *mount) (at time.Time, acked chan struct{}) {
	w.t.Helper()
	for range 200 {
		disk.fill()
		at, acked = w.say("slow", 4.5, 1)
		flitchtest.Within(patience, func() bool {
			return isClosed(acked) || len(w.phone.of("B10", "raised")) > 0 && !exists(disk.path("flitch.db.ballast"))
		})
		if !isClosed(acked) {
			disk.fill()
			if !flitchtest.Within(2*time.Second, func() bool { return isClosed(acked) }) {
				return at, acked
			}
		}
	}
	w.t.Fatal("the disk never filled")
	return
}

// Promise 1 and 3 on a full disk: nothing is acknowledged that is not stored; a person is
// told at once, and of a fire too, which is seen in memory; when there is room again all
// that was held is stored, and the journal says what was not.
func TestAFullDisk(t *testing.T) {
	t.Parallel()
	disk := small(t, "6m")
	w := newShed(t, disk).watch()
	w.up()
	w.begin()
	w.say("chamber", 60, 0)
	free := disk.fill()
	began := time.Now()
	waits, acked := w.exhaust(disk)
	told, ok := w.rang(patience, "B10")
	if !ok {
		t.Fatalf("nobody was told of the full disk:\n%s", w.life.Said())
	}
	t.Logf("1 fault: full disk; told after %s: %s", told.came.Sub(began).Round(time.Millisecond), told.Title)
	if health := w.get("/healthz"); !strings.Contains(health, "disk full") {
		t.Errorf("healthz says %s", health)
	}
	burning, stop := context.WithTimeout(t.Context(), patience)
	defer stop()
	sent := w.flames(burning)
	fire, ok := w.rang(time.Second, "H1")
	if !ok {
		t.Fatalf("a fire rang nobody while the disk was full:\n%s", w.life.Said())
	}
	if fire.Message != 0 || fire.Alarm != 0 {
		t.Errorf("the fire rang as message %d of alarm %d, which cannot be stored", fire.Message, fire.Alarm)
	}
	if isClosed(acked) || w.has("slow", waits) {
		t.Error("a reading was acknowledged or stored on a full disk: this test shows nothing")
	}
	w.alive()
	free()
	if !flitchtest.Within(patience, func() bool { return isClosed(acked) && w.has("slow", waits) }) {
		t.Fatalf("with room again the reading that waited is not acknowledged and stored:\n%s", w.life.Said())
	}
	if !flitchtest.Within(patience, func() bool { return len(w.phone.of("H1", "raised")) > 1 }) {
		t.Error("the fire was not stored when there was room again")
	}
	if !flitchtest.Within(patience, func() bool { return strings.Contains(w.journal(), "gap: nothing could be stored from") }) {
		t.Errorf("the journal has no line of the gap:\n%s", w.journal())
	}
	if !flitchtest.Within(patience, func() bool {
		return exists(disk.path("flitch.db.ballast")) && !strings.Contains(w.get("/healthz"), "disk")
	}) {
		t.Errorf("after the end of the fault: %s", w.get("/healthz"))
	}
	if record := w.get("/batches/PS-02/record.json"); !strings.Contains(record, "nothing could be stored from") {
		t.Errorf("the record does not say it: %.300s", record)
	}
	t.Logf("the fire was seen in memory after %d readings; journal: %s", sent, lineWith(w.journal(), "gap: "))
	w.alive()
	w.life.end()
	w.sound()
}

func lineWith(text, what string) string {
	for line := range strings.Lines(text) {
		if strings.Contains(line, what) {
			return strings.TrimSpace(line)
		}
	}
	return ""
}

// A start on a full disk comes up by itself: the room that was kept is given up for it.
func TestAStartOnAFullDisk(t *testing.T) {
	t.Parallel()
	disk := small(t, "6m")
	s := newShed(t, disk)
	first := s.watch()
	first.up()
	first.begin()
	first.life.end()
	free := disk.fill()
	w := s.watch()
	w.up()
	if _, ok := w.rang(patience, "B10"); !ok {
		t.Errorf("nobody was told of the full disk:\n%s", w.life.Said())
	}
	t.Logf("1 fault: full disk at the start")
	w.alive()
	free()
	freed := time.Now()
	w.say("slow", 3, 1)
	if !flitchtest.Within(patience, func() bool { return !strings.Contains(w.get("/healthz"), "disk") }) {
		t.Errorf("with room again: %s", w.get("/healthz"))
	}
	t.Logf("over %s after there was room", time.Since(freed).Round(time.Second))
	w.life.end()
	w.sound()
}

// sound wants a database that is whole, by flitch's own word.
func (s *shed) sound() {
	s.t.Helper()
	s.must("verify", s.database)
}
