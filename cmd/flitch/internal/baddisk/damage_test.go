package baddisk

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
	"flitch/ingest/mqtt/mqtttest"
)

const page = 4096 // bytes of a page of the database

// damage flips the bits of pages of a file, from a share of it to another.
func damage(t *testing.T, path string, from, to float64) (pages int64) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	all := info.Size() / page
	for n := int64(from * float64(all)); n < int64(to*float64(all)); n++ {
		text := make([]byte, page)
		if _, err := f.ReadAt(text, n*page); err != nil {
			t.Fatal(err)
		}
		for i := range text {
			text[i] ^= 0x55
		}
		if _, err := f.WriteAt(text, n*page); err != nil {
			t.Fatal(err)
		}
		pages++
	}
	return pages
}

// lived is a shed whose database has some thousand readings and of which there is a copy.
func lived(t *testing.T) (s *shed, copied string) {
	t.Helper()
	s = newShed(t, small(t, "64m"))
	text := string(read(t, s.config())) + "\n[backup]\nfolder = \"" + filepath.Join(s.folder, "copies") + "\"\nevery = \"24h\"\n"
	write(t, s.config(), []byte(text))
	w := s.watch()
	w.up()
	w.begin()
	conn, err := mqtttest.Dial(s.broker, "history")
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	var packets [][]byte
	for i := range 6000 {
		at := time.Now().Add(time.Duration(i-6001) * 10 * time.Millisecond)
		packets = append(packets, mqtttest.Packet("shop/slow", fmt.Appendf(nil, `{"t":%d,"v":3.1}`, at.UnixMilli()), 1, mqtttest.PacketID(i)))
	}
	if err := conn.Flood(packets, 200); err != nil {
		t.Fatal(err)
	}
	copied = strings.SplitN(s.must("backup", "--config", s.config()), "\n", 2)[0]
	w.life.end()
	return s, copied
}

// A database at rest of which a piece has rotted, where nobody looks: flitch starts, finds
// it by reading through, says so with the command that helps, and goes on watching.
func TestAPageThatRotted(t *testing.T) {
	t.Parallel()
	s, copied := lived(t)
	pages := damage(t, s.database, 0.55, 0.6)
	w := s.watch()
	w.up()
	w.say("chamber", 60, 0)
	told, ok := w.rang(patience, "B10d")
	if !ok {
		t.Fatalf("nobody was told of %d damaged pages:\n%s", pages, w.life.Said())
	}
	want := "flitch restore " + copied + " --to " // said by the first of two: the one past the database
	if !flitchtest.Within(patience/4, func() bool {
		return slices.ContainsFunc(w.phone.of("B10d", "raised"), func(r ring) bool { return strings.Contains(r.Text, want) })
	}) {
		t.Errorf("no message says %q:\n%s", want, told.Text)
	}
	w.stillWatches(t, pages)
	if text := w.get("/"); !strings.Contains(text, "<html") {
		t.Errorf("the page is %.200q", text)
	}
	w.life.Kill()
}

// The same while it runs, and everything but the first pages: what is asked for is found
// damaged at once, and evaluation goes on in memory if it has to.
func TestPagesThatRotUnderTheDaemon(t *testing.T) {
	t.Parallel()
	s, _ := lived(t)
	w := s.watch()
	w.up()
	w.say("chamber", 60, 0)
	pages := damage(t, s.database, 0.02, 1)
	if _, ok := w.rang(patience, "B10d"); !ok {
		t.Fatalf("nobody was told of %d damaged pages:\n%s", pages, w.life.Said())
	}
	w.stillWatches(t, pages)
}

// stillWatches wants a fire to ring, the page to answer and the daemon to live.
func (w *watched) stillWatches(t *testing.T, pages int64) {
	t.Helper()
	burning, stop := context.WithTimeout(t.Context(), patience)
	defer stop()
	w.flames(burning)
	fire, ok := w.rang(time.Second, "H1")
	if !ok {
		t.Errorf("a fire rang nobody with %d pages damaged:\n%s", pages, w.life.Said())
	}
	if w.get("/") == "" {
		t.Error("the page does not answer")
	}
	if health := w.get("/healthz"); !strings.Contains(health, "flitch restore") {
		t.Errorf("healthz does not say what to do: %s", health)
	}
	w.alive()
	t.Logf("1 fault: %d pages damaged; told, and a fire rang as alarm %d (0: seen in memory)", pages, fire.Alarm)
}

// A database that cannot be opened at all: the start stays up, tells people the very
// command, and that command, typed as it stands, brings the watch back.
func TestADatabaseThatCannotBeOpened(t *testing.T) {
	t.Parallel()
	s, copied := lived(t)
	damage(t, s.database, 0, 0.9)
	w := s.watch()
	said := func() bool { return len(s.phone.all()) > 0 && strings.Contains(s.get("/healthz"), "not watching") }
	rings := len(s.phone.all())
	if !flitchtest.Within(patience, said) {
		t.Fatalf("nobody was told:\n%s", w.life.Said())
	}
	told := s.phone.all()[rings]
	command := lineWith(strings.ReplaceAll(told.Text, ": flitch restore", ":\nflitch restore"), "flitch restore "+copied)
	if command == "" {
		t.Fatalf("the message has no command for %s:\n%s", copied, told.Text)
	}
	pause(t.Context(), 2*watchEvery)
	if n := strings.Count(w.life.Said(), "nothing is watched"); n != 1 || len(s.phone.all()) != rings+1 {
		t.Errorf("told %d times in the log, %d on the phone", n, len(s.phone.all())-rings)
	}
	w.alive()
	w.life.end()
	args := strings.Fields(strings.Replace(command, "INITIALS", "T.V.", 1))[1:]
	if out, err := exec.Command(binary(t, full), args...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", command, err, out)
	}
	again := s.watch()
	again.up()
	t.Logf("1 fault: a database that cannot be opened; %q helped", command)
	again.life.end()
	s.sound()
}
