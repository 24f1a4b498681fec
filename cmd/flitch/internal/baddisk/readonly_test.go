package baddisk

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/flitchtest"
)

// A file system that finds an error in itself goes read-only under the daemon: nothing is
// acknowledged any more, a person is told at once, and a fire rings all the same. A
// start on it stays up, says what to do, and works as soon as the disk is back.
func TestADiskThatGoesReadOnly(t *testing.T) {
	t.Parallel()
	file := image(t, filepath.Join(t.TempDir(), "card"), 24)
	disk := attachImage(t, file, "errors=remount-ro")
	s := newShed(t, disk)
	w := s.watch()
	w.up()
	w.begin()
	before, acked := w.say("chamber", 60, 1)
	if !flitchtest.Within(patience, func() bool { return isClosed(acked) }) {
		t.Fatal("a reading was not acknowledged before anything was wrong")
	}
	run(t, "mount", "-o", "remount,abort", disk.folder)
	_, acked = w.say("slow", 4.5, 1)
	told, ok := w.rang(patience/4, "B10")
	if !ok {
		t.Fatalf("nobody was told of the read-only disk:\n%s", w.life.Said())
	}
	burning, stop := context.WithTimeout(t.Context(), patience)
	defer stop()
	sent := w.flames(burning)
	if len(w.phone.of("H1", "raised")) == 0 {
		t.Errorf("a fire rang nobody while the disk was read-only:\n%s", w.life.Said())
	}
	if isClosed(acked) {
		t.Error("a reading was acknowledged that no disk took")
	}
	if page := w.get("/"); !strings.Contains(page, "<html") {
		t.Errorf("the page is %.300q", page)
	}
	if !w.has("chamber", before) {
		t.Error("what is stored cannot be read any more")
	}
	w.alive()
	t.Logf("1 fault: read-only while running; %s; fire seen in memory after %d readings", told.Text, sent)
	w.life.Kill()

	rings := len(s.phone.all())
	again := s.watch()
	if !flitchtest.Within(patience/2, func() bool { return len(s.phone.all()) > rings && strings.Contains(s.get("/healthz"), "not watching") }) {
		t.Fatalf("a start on a read-only disk told nobody:\n%s", again.life.Said())
	}
	said := s.phone.all()[rings]
	if !strings.Contains(said.Title, "not watching") || !strings.Contains(said.Text, "flitch restore") {
		t.Errorf("at the start it says %+v", said)
	}
	again.alive()
	disk.detach()
	disk.folder = again.remount(file)
	again.up() // by itself
	t.Logf("2nd fault: read-only at the start; it says %q, and watches once the disk is back", said.Text)
	again.alive()
	again.life.end()
	s.sound()
}

// remount mounts an image again where it was.
func (s *shed) remount(file string) string {
	s.t.Helper()
	folder := filepath.Dir(s.database)
	run(s.t, "sh", "-c", "PATH=$PATH:/usr/sbin e2fsck -fp \"$0\" || [ $? = 1 ]", file) // 1: mended
	run(s.t, "mount", "-o", "loop", file, folder)
	return folder
}
