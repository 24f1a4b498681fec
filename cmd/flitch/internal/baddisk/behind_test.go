package baddisk

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// A behind is a shed whose readings come over mosquitto, which is another process on a disk
// that works: what it has acknowledged no sensor sends again. A relay before it knows what
// flitch has acknowledged.
type behind struct {
	*watched
	relay *mqtttest.Relay
	left  []leftReading
}

// A leftReading is one that mosquitto has acknowledged.
type leftReading struct {
	probe, payload string
	at             time.Time
}

// newBehind makes an empty database on the disk, for a flitch that subscribes at mosquitto.
func newBehind(t *testing.T, disk *mount, lines ...string) *behind {
	t.Helper()
	s := newShed(t, disk)
	mosquitto := mqtttest.StartMosquitto(t, lines...)
	relay := mqtttest.NewRelay(t, mosquitto.Addr)
	embedded := fmt.Sprintf("mode = \"embedded\"\nlisten = %q\nanonymous = true", s.broker)
	text := string(read(t, s.config()))
	if !strings.Contains(text, embedded) {
		t.Fatalf("there is no embedded broker in\n%s", text)
	}
	outside := fmt.Sprintf("mode = \"external\"\nurl = \"tcp://%s\"", relay.Addr)
	if err := os.WriteFile(s.config(), []byte(strings.Replace(text, embedded, outside, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	s.broker = mosquitto.Addr // where sensors publish
	return &behind{watched: &watched{shed: s}, relay: relay}
}

// start begins a life, and waits until mosquitto keeps for it what it does not take.
func (b *behind) start(what build, every time.Duration) {
	b.t.Helper()
	before := b.relay.Subscribed()
	b.watched = b.watchOf(what, every)
	if !b.life.until(func() bool { return b.get("/healthz") != "" && b.relay.Subscribed() > before }) {
		b.t.Fatalf("flitch did not start, or did not subscribe:\n%s", b.life.Said())
	}
}

// leave publishes a reading that mosquitto acknowledges, whatever flitch does.
func (b *behind) leave(probe string, value float64) {
	b.t.Helper()
	at, acked := b.say(probe, value, 1)
	if !flitchtest.Within(patience, func() bool { return isClosed(acked) }) {
		b.t.Fatal("mosquitto did not acknowledge a reading")
	}
	b.left = append(b.left, leftReading{probe, fmt.Sprintf(`{"t":%d,"v":%.1f}`, at.UnixMilli(), value), at})
	for !time.Now().Truncate(time.Millisecond).After(at) { // each has a time of its own
		time.Sleep(time.Millisecond)
	}
}

// acknowledged is whether flitch has acknowledged it to mosquitto.
func (b *behind) acknowledged(r leftReading) bool {
	return b.relay.Acked("shop/"+r.probe, r.payload) > 0
}

// lies are the readings that flitch has acknowledged and not stored, and waiting those that it
// has not acknowledged.
func (b *behind) lies() (lies, waiting int) {
	for _, r := range b.left {
		switch {
		case !b.acknowledged(r):
			waiting++
		case !b.has(r.probe, r.at):
			lies++
		}
	}
	return lies, waiting
}

// stopsTaking fills the disk and leaves readings until one is not acknowledged and somebody is told.
func (b *behind) stopsTaking(disk *mount) {
	b.t.Helper()
	told := func() bool { return len(b.phone.of("B10", "raised")) > 0 }
	for range 200 {
		disk.fill()
		b.leave("slow", 4.5)
		last := b.left[len(b.left)-1]
		if !flitchtest.Within(patience, func() bool { return b.acknowledged(last) || told() }) {
			b.t.Fatalf("a reading is not acknowledged, and nobody was told of the full disk:\n%s", b.life.Said())
		}
		if told() && !flitchtest.Within(time.Second, func() bool { return b.acknowledged(last) }) {
			return
		}
	}
	b.t.Fatal("the disk took everything")
}

// burns is a chamber that burns, by readings that mosquitto acknowledges, until somebody is told.
func (b *behind) burns(entry string) {
	b.t.Helper()
	told := func() bool { return len(b.phone.of(entry, "raised")) > 0 }
	for n, began := 0, time.Now(); !told() && time.Since(began) < patience; n++ {
		b.leave("chamber", min(60+15*float64(n), 350))
		flitchtest.Within(700*time.Millisecond, told)
	}
	if !told() {
		b.t.Errorf("a fire rang nobody:\n%s", b.life.Said())
	}
}

// delivered waits until flitch has acknowledged all, and counts what is not stored then.
func (b *behind) delivered() (missing int) {
	b.t.Helper()
	flitchtest.Within(patience, func() bool { _, waiting := b.lies(); return waiting == 0 })
	for _, r := range b.left {
		if !b.has(r.probe, r.at) {
			missing++
		}
	}
	return missing
}

// whole ends flitch and wants every reading once and a database that is sound.
func (b *behind) whole() {
	b.t.Helper()
	if missing := b.delivered(); missing > 0 {
		b.t.Errorf("%d of %d readings that mosquitto acknowledged are not stored:\n%s", missing, len(b.left), b.life.Said())
	}
	if lies, waiting := b.lies(); lies+waiting > 0 {
		b.t.Errorf("%d readings are acknowledged and not stored, %d not acknowledged in the end", lies, waiting)
	}
	if n := b.counted(); n != int64(len(b.left)) {
		b.t.Errorf("%d readings are stored of %d", n, len(b.left))
	}
	b.alive()
	b.life.end()
	b.sound()
}

// counted is how many readings are stored; -1: nobody knows.
func (b *behind) counted() int64 {
	db, err := store.OpenReadOnly(b.database)
	if err != nil {
		return -1
	}
	defer db.Close()
	n, err := db.CountReadings()
	if err != nil {
		return -1
	}
	return n
}

// honest wants nothing to be acknowledged that is not stored, and something to wait.
func (b *behind) honest() (waiting int) {
	b.t.Helper()
	lies, waiting := b.lies()
	if lies > 0 {
		b.t.Errorf("%d readings are acknowledged to mosquitto and not stored", lies)
	}
	if waiting == 0 {
		b.t.Error("every reading was acknowledged: this test shows nothing")
	}
	return waiting
}

// A full disk behind mosquitto: flitch takes what comes, and acknowledges none of it; a fire
// rings, also when mosquitto sends no more without an acknowledgement; with room again all is stored.
func TestAFullDiskBehindMosquitto(t *testing.T) {
	t.Parallel()
	disk := small(t, "6m")
	b := newBehind(t, disk, "max_inflight_messages 20") // as it comes
	b.start(full, watchEvery)
	b.begin()
	b.leave("chamber", 60)
	free := disk.fill()
	b.stopsTaking(disk)
	for range 30 {
		b.leave("slow", 4.5)
	}
	b.burns("H1")
	waiting := b.honest()
	b.alive()
	free()
	b.whole()
	t.Logf("1 fault: full disk behind mosquitto; %d of %d readings waited there, and were stored with room again", waiting, len(b.left))
}

// A disk that goes read-only behind mosquitto, and a flitch that is killed meanwhile, with all
// it held in memory: mosquitto has it still.
func TestAReadOnlyDiskBehindMosquitto(t *testing.T) {
	t.Parallel()
	b, missing := readOnlyBehind(t, full)
	if missing > 0 {
		t.Errorf("%d of %d readings that mosquitto acknowledged are not stored", missing, len(b.left))
	}
	b.whole()
}

// The control: a flitch that acknowledges before it stores loses what it held.
func TestTheTestBehindMosquittoSeesWhatIsLost(t *testing.T) {
	t.Parallel()
	b, missing := readOnlyBehind(t, early)
	if missing == 0 {
		t.Errorf("a flitch that acknowledges early lost none of %d readings: this test would not see a loss", len(b.left))
	}
	b.life.Kill()
}

// readOnlyBehind kills flitch on a read-only disk, starts the one that is built well on the
// mended disk, and returns how many readings are missing then.
func readOnlyBehind(t *testing.T, what build) (b *behind, missing int) {
	file := image(t, filepath.Join(t.TempDir(), "card"), 24)
	disk := attachImage(t, file, "errors=remount-ro")
	b = newBehind(t, disk)
	b.start(what, watchEvery)
	b.begin()
	b.leave("chamber", 60)
	if !flitchtest.Within(patience, func() bool { return b.has("chamber", b.left[0].at) }) { // the control acknowledges before
		t.Fatalf("a reading was not stored before anything was wrong:\n%s", b.life.Said())
	}
	run(t, "mount", "-o", "remount,abort", disk.folder)
	b.leave("slow", 4.5)
	if _, ok := b.rang(patience, "B10"); !ok {
		t.Errorf("nobody was told of the read-only disk:\n%s", b.life.Said())
	}
	b.burns("H1")
	if what == early { // its acknowledgements may be on their way
		flitchtest.Within(patience, func() bool { lies, _ := b.lies(); return lies > 0 })
	} else {
		b.honest()
		b.alive()
	}
	lies, waiting := b.lies()
	b.life.Kill()
	disk.detach()
	disk.folder = b.remount(file)
	b.start(full, watchEvery)
	missing = b.delivered()
	t.Logf("1 fault: read-only and a kill behind mosquitto, flitch that is %s: of %d readings %d waited there, %d were acknowledged and not stored, %d are missing in the end",
		what.word, len(b.left), waiting, lies, missing)
	return b, missing
}

// A disk of seconds behind mosquitto, and a kill while it writes.
func TestASlowDiskBehindMosquitto(t *testing.T) {
	t.Parallel()
	b := newBehind(t, small(t, "16m"))
	b.start(full, 30*time.Second)
	b.begin()
	b.leave("chamber", 60)
	fast := b.slowly(time.Second)
	b.burns("H1")
	for range 30 {
		b.leave("slow", 4.5)
	}
	waiting := b.honest()
	b.alive()
	b.life.Kill()
	fast()
	b.start(full, watchEvery)
	b.whole()
	t.Logf("1 fault: a second more for each write, and a kill, behind mosquitto; %d of %d readings waited there, and were stored after it", waiting, len(b.left))
}
