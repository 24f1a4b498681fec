package app

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"flitch/alerts/push/pushtest"
	"flitch/cmd/flitch/internal/config"
	"flitch/process/engine"
	"flitch/store"
)

// One way to the phone is dead: it becomes an alarm that goes the other way, and
// what was due is delivered when the way is back.
func TestADeadPhonePathIsToldTheOtherWay(t *testing.T) {
	s := newShop(t)
	other := newTestPhone()
	t.Cleanup(other.server.Close)
	s.cfg.Channels = append(s.cfg.Channels, config.Channel{Name: "other", Kind: "http", Level: "ring", Deadline: 5 * time.Second,
		Text: map[string]string{"url": other.server.URL}, Secrets: map[string]config.Secret{}})
	s.open()
	s.begin(raw)
	s.phone.answer(500)
	s.every(minute, 0, 21*minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
	heard := other.heard()
	if !slices.Contains(heard, "C2 raised ring") {
		t.Fatalf("the other phone heard %q", heard)
	}
	s.every(minute, 22*minute, 40*minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
	if heard = other.heard(); !slices.Contains(heard, "B7 raised ring") {
		t.Errorf("the other phone heard %q, no word of the dead path", heard)
	}
	if list := s.app.faults.List(); len(list) != 1 || list[0].Part != engine.FaultPhone+"phone" {
		t.Errorf("faults %+v", list)
	}
	s.phone.answer(0)
	s.every(minute, 41*minute, 60*minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
	if heard = s.phone.heard(); !slices.ContainsFunc(heard, func(h string) bool { return h[:2] == "C2" }) {
		t.Errorf("the phone heard %q once it was back", heard)
	}
	if list := s.app.faults.List(); len(list) != 0 {
		t.Errorf("faults %+v", list)
	}
}

// A way that was dead before a restart and works after it is no fault any more: the
// alarm about it ends with the first message that gets through.
func TestAFaultOfBeforeTheStartEnds(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	warm := func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") }
	s.phone.answer(500)
	s.every(minute, 0, 40*minute, warm)
	if _, standing, err := s.app.Alarm("B7"); err != nil || !standing {
		t.Fatalf("no alarm about the dead way, %v", err)
	}
	s.close()
	s.phone.answer(0)
	s.open()
	s.every(minute, 41*minute, 70*minute, warm)
	if number, standing, err := s.app.Alarm("B7"); err != nil || standing {
		t.Errorf("alarm %d about the way stands, %v; the phone heard %q", number, err, s.phone.heard())
	}
}

// The disk is full: nothing is acknowledged, somebody is told at once past the
// disk, and when there is room again nothing is missing.
func TestAFullDiskIsToldAndLosesNothing(t *testing.T) {
	s, small := smallShop(t)
	s.read("slow", 3)
	ballast := filepath.Join(small, "ballast")
	fill(t, ballast)

	waiting := s.out.Publish(s.patience(), "shop/slow", []byte(`{"t":"2031-05-05T06:00:01Z","v":4.5}`), 1)
	told := s.until(func() bool { return slices.Contains(s.phone.heard(), "B10 raised ring") })
	if !told {
		t.Error("nobody was told of the full disk")
	}
	select {
	case err := <-waiting:
		t.Fatalf("acknowledged on a full disk (%v)", err)
	default:
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	s.until(func() bool { s.clock.Step(s.clock.Now().Add(time.Second)); return len(waiting) == 1 }) // back-off is on the clock
	if err := <-waiting; err != nil {
		t.Fatal(err)
	}
	stored, err := s.app.db.HasReading("slow", dawn.Add(time.Second))
	if err != nil || !stored {
		t.Errorf("acknowledged and not stored: %v", err)
	}
	if !s.until(func() bool { return len(s.app.faults.List()) == 0 }) {
		t.Errorf("faults %+v", s.app.faults.List())
	}
}

// smallDisk is a disk of 4 MB.
func smallDisk(t *testing.T) (small string) {
	t.Helper()
	small = t.TempDir()
	if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=4m"); err != nil {
		t.Fatalf("this test mounts a small disk and needs root: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(small, syscall.MNT_DETACH) })
	return small
}

// smallShop is a shop on a disk of 4 MB.
func smallShop(t *testing.T) (s *shop, small string) {
	t.Helper()
	s, small = newShop(t), smallDisk(t)
	s.cfg.Site.Database = filepath.Join(small, "flitch.db")
	if err := store.Create(s.cfg.Site.Database); err != nil {
		t.Fatal(err)
	}
	s.open()
	return s, small
}

// A person whose command the disk cannot take is told so, and what to do: by the API and on
// the page. When there is room again the same command is taken.
func TestAPersonIsToldThatTheDiskIsFull(t *testing.T) {
	s, small := smallShop(t)
	s.begin(raw)
	c := s.caller(s.get("/api/openapi.yaml"))
	say := func(id string) (int, string) {
		return c.ask("POST /api/commands", "/api/commands", []byte(`{"id":"`+id+`","kind":"note","batch":"PS-02","by":"TV","text":"wiped the door"}`))
	}
	status, text, tried := 0, "", 0
	full := s.until(func() bool { // what the house keeps for such a time is given up first
		tried++
		fill(t, filepath.Join(small, fmt.Sprint("ballast", tried)))
		status, text = say(fmt.Sprint("note-", tried))
		return status != http.StatusOK
	})
	if want := "free some space on the disk of flitch; until then write it down"; !full || status != http.StatusServiceUnavailable ||
		!strings.Contains(text, "the disk is full: this was not entered") || !strings.Contains(text, want) {
		t.Errorf("after %d: %d %s", tried, status, text)
	}
	if status, _, text := s.visitor().ask(http.MethodPost, "/turned", url.Values{"by": {"TV"}, "batch": {"PS-02"}}); status != http.StatusServiceUnavailable ||
		!strings.Contains(text, "this was not entered") {
		t.Errorf("the page: %d %s", status, text)
	}
	for n := range tried {
		if err := os.Remove(filepath.Join(small, fmt.Sprint("ballast", n+1))); err != nil {
			t.Fatal(err)
		}
	}
	if status, text := say(fmt.Sprint("note-", tried)); status != http.StatusOK {
		t.Errorf("with room again: %d %s", status, text)
	}
}

// A phone or a probe that a full disk cannot take is not on the list, and the person is told why.
func TestAFullDiskTakesNoPhoneAndNoProbe(t *testing.T) {
	small := smallDisk(t)
	s, service := patientShop(t, 5*time.Second, func(c *config.Config) {
		c.Site.Database, c.Path = filepath.Join(small, "flitch.db"), filepath.Join(small, "flitch.toml")
		if err := store.Create(c.Site.Database); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(c.Path, []byte(config.Sample("Plover Shed")), 0o600); err != nil {
			t.Fatal(err)
		}
	})
	s.addPhone(service, "grey")
	probe := []byte(`{"name":"shelf","place":"alder","measures":"air","topic":"shop/shelf","unit":"C","by":"TV"}`)
	for name, ask := range map[string]func() (int, string){
		"a phone":           func() (int, string) { return s.send("/api/phones", asks(service, "red", pushtest.NewBrowser())) },
		"a phone that goes": func() (int, string) { return s.send("/api/phones/remove", map[string]any{"phone": 1, "by": "T.V."}) },
		"a probe":           func() (int, string) { return s.send("/api/probes", json.RawMessage(probe)) },
	} {
		status, text, tried := 0, "", 0
		s.until(func() bool { // what the house keeps for such a time is given up first
			tried++
			file := filepath.Join(small, fmt.Sprint(name, tried))
			fill(t, file)
			status, text = ask()
			if err := os.Remove(file); err != nil {
				t.Fatal(err)
			}
			return status != http.StatusOK
		})
		if status != http.StatusServiceUnavailable || !strings.Contains(text, "the disk is full: nothing was changed") || !strings.Contains(text, "free some space") {
			t.Errorf("%s: %d %s", name, status, text)
		}
	}
}

// A program that holds the database longer than flitch waits for it does not keep a fault out of
// the journal.
func TestAFaultOutlastsAProgramThatHoldsTheDatabase(t *testing.T) {
	s := newShop(t)
	log := heardLog{slog.DiscardHandler, make(chan string, 1000)}
	s.log = log
	s.open()
	s.begin(raw)
	letGo := s.holdDatabase()
	s.app.guessed("T.V.", 5, "192.0.2.7")
	log.until("fault not stored")
	letGo()
	written := func() bool {
		s.clock.Step(s.clock.Now().Add(time.Second))
		return slices.ContainsFunc(s.journal("fault"), func(line string) bool { return strings.Contains(line, "5 wrong passwords in a row") })
	}
	if !s.until(written) {
		t.Errorf("the journal says of faults %q", s.journal("fault"))
	}
}

// holdDatabase is another program that writes to the database and comes to no end until it is told.
func (s *shop) holdDatabase() (letGo func()) {
	s.t.Helper()
	other, err := sql.Open("sqlite3", "file:"+s.cfg.Site.Database+"?_txlock=immediate")
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { other.Close() })
	holding, err := other.Begin()
	if err != nil {
		s.t.Fatal(err)
	}
	return func() {
		if err := holding.Rollback(); err != nil {
			s.t.Fatal(err)
		}
	}
}

// fill writes until there is no room left.
func fill(t *testing.T, path string) {
	t.Helper()
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	block := make([]byte, 4096)
	for {
		if _, err := file.Write(block); err != nil {
			return
		}
	}
}

// until asks again and again, for at most half a minute.
func (s *shop) until(now func() bool) bool {
	ctx := s.patience()
	for !now() {
		select {
		case <-ctx.Done():
			return false
		case <-time.After(time.Millisecond):
		}
	}
	return true
}
