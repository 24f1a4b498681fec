package baddisk

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/store"
)

// cutsEnv in the environment is how many cuts of power there are of each kind.
const cutsEnv = "FLITCH_CUTS"

func cuts(t *testing.T) int {
	t.Helper()
	text := os.Getenv(cutsEnv)
	if text == "" {
		return 8
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%q: a number of cuts from 1 on, such as %s=100", cutsEnv, text, cutsEnv)
	}
	return n
}

// Promise 1 and 2 when the power goes: what was acknowledged is on the disk, whole; a
// message that reached the phone has its attempt there; a copy that has its name is one.
func TestWhatWasAcknowledgedOutlivesACutOfPower(t *testing.T) {
	t.Parallel()
	g := newGrid(t, full)
	g.run(cuts(t))
	t.Log(g.told())
	g.print()
	if g.acked == 0 || g.rang == 0 || g.copies == 0 {
		t.Errorf("nothing was at stake: %s", g.told())
	}
	if lines := g.verified.lines; g.verified.met != g.cuts || lines["seals met"] == 0 || lines["signature met"] == 0 || lines["clocks met"] == 0 {
		t.Errorf("flitch verify: %s\n%s", g.verified, strings.Join(g.faults, "\n"))
	}
	if g.lost+g.damaged+g.untold+g.brokenCopies > 0 {
		t.Errorf("after a cut of power: %s", strings.Join(g.faults, "\n"))
	}
}

// The control: the same daemon that does not wait for the disk loses what it acknowledged.
func TestThePowerCutSeesWhatIsLost(t *testing.T) {
	for _, weak := range []build{normal, off} {
		t.Run(weak.word, func(t *testing.T) {
			g := newGrid(t, weak)
			g.run(cuts(t))
			t.Log(g.told())
			g.print()
			if g.lost == 0 {
				t.Errorf("synchronous %s lost nothing: this test would not see a loss (%s)", weak.word, g.told())
			}
		})
	}
}

// A grid is a daemon at work on a disk of which copies are taken as it stands.
type grid struct {
	t       *testing.T
	what    build
	random  *rand.Rand
	outer   *mount // can copy a file in an instant
	live    *mount // the disk, an image in outer
	shed    *shed
	sensors []*sensor

	mu     sync.Mutex
	backed []string // names of copies whose making has ended well

	key  string // that signs its seals
	said int    // commands of seal

	cuts, acked, lost, lostCuts, worst, damaged, rang, untold, copies, brokenCopies int
	verified                                                                        verdicts

	faults []string
}

const stick = "stick" // the folder of copies, on the same disk

// atStake is how many of the newest readings of a probe are looked for one by one, and of
// the newest messages; the older ones are counted.
const atStake = 2000

func newGrid(t *testing.T, what build) *grid {
	t.Helper()
	g := &grid{t: t, what: what, random: rand.New(rand.NewPCG(20, 31))}
	outer := filepath.Join(t.TempDir(), "outer")
	blank(t, outer, 400)
	run(t, "mkfs.xfs", "-q", "-m", "reflink=1", outer)
	g.outer = attachImage(t, outer, "noatime")
	g.live = attachImage(t, image(t, g.outer.path("live"), 160), "noatime")
	g.shed = newShed(t, g.live)
	steady := func(c float64) func(int) float64 { return func(int) float64 { return c } }
	cross := func(n int) float64 { return 50 + float64(n/20%2)*4 } // over its target again and again
	for probe, value := range map[string]func(int) float64{"core": cross, "chamber": steady(60), "slow": steady(3)} {
		g.sensors = append(g.sensors, &sensor{addr: g.shed.broker, probe: probe, value: value, group: 20, acked: map[int]time.Time{}})
	}
	return g
}

// run cuts the power n times at random moments.
func (g *grid) run(n int) {
	g.t.Helper()
	l := g.shed.start(g.what)
	g.key, _ = l.Line("record key ")
	g.shed.begin()
	ctx, stop := context.WithCancel(context.Background())
	var helpers sync.WaitGroup
	defer helpers.Wait()
	defer stop()
	for _, s := range g.sensors {
		helpers.Go(func() { s.run(ctx) })
	}
	helpers.Go(func() { g.answer(ctx) })
	helpers.Go(func() { g.backUp(ctx) })
	helpers.Go(func() { g.seal(ctx) })
	l.until(func() bool { return len(g.shed.phone.all()) > 0 })
	for range n {
		pause(ctx, time.Duration(30+g.random.IntN(400))*time.Millisecond)
		g.cut()
	}
	if !l.Runs() {
		g.t.Fatalf("flitch ended by itself:\n%s", l.Said())
	}
	stop()
	helpers.Wait()
	l.Kill()
}

// answer acknowledges what rings, so that it rings again.
func (g *grid) answer(ctx context.Context) {
	for number := int64(1); ctx.Err() == nil; {
		if g.shed.post(map[string]any{"id": fmt.Sprintf("answer-%d", number), "kind": "acknowledge", "by": "M.O.", "alarm": number}) == nil {
			number++
		}
		pause(ctx, 30*time.Millisecond)
	}
}

// backUp makes copies by the command that people use.
func (g *grid) backUp(ctx context.Context) {
	for ctx.Err() == nil {
		out, err := exec.CommandContext(ctx, binary(g.t, full), "backup", "--config", g.shed.config(), "--to", g.live.path(stick)).Output()
		if err == nil {
			g.mu.Lock()
			g.backed = append(g.backed, filepath.Base(strings.SplitN(string(out), "\n", 2)[0]))
			for len(g.backed) > 2 { // the disk is small
				_ = os.RemoveAll(g.live.path(filepath.Join(stick, g.backed[0])))
				g.backed = g.backed[1:]
			}
			g.mu.Unlock()
		}
		pause(ctx, 1200*time.Millisecond) // copies have seconds in their names
	}
}

// cut takes the disk as it stands and looks at what a machine would find there.
func (g *grid) cut() {
	g.t.Helper()
	acked, all := map[string][]time.Time{}, 0
	for _, s := range g.sensors {
		times, n := s.acknowledged(atStake)
		acked[s.probe] = times
		all += n
	}
	rang := g.shed.phone.all()
	g.mu.Lock()
	backed := append([]string(nil), g.backed...)
	dead := g.outer.path("dead")
	run(g.t, "cp", "--reflink=always", g.outer.path("live"), dead)
	g.mu.Unlock() // until now none of them was thrown away
	defer os.Remove(dead)
	disk := attachImage(g.t, dead, "noatime")
	defer disk.detach()
	g.cuts++
	g.verify(disk.path("flitch.db")) // first, as it was left
	g.lookAt(disk, acked, all, rang)
	g.lookAtCopies(disk.path(stick), backed)
}

func (g *grid) fault(format string, args ...any) {
	g.faults = append(g.faults, fmt.Sprintf("cut %d: ", g.cuts)+fmt.Sprintf(format, args...))
}

// lookAt opens the database as a start does.
func (g *grid) lookAt(disk *mount, acked map[string][]time.Time, all int, rang []ring) {
	rang = rang[max(0, len(rang)-atStake):]
	g.rang += len(rang)
	for _, times := range acked {
		g.acked += len(times)
	}
	db, err := store.Open(disk.path("flitch.db"))
	if err != nil {
		g.damaged++
		g.fault("the database does not open: %v", err)
		g.loseAll(acked)
		return
	}
	defer db.Close()
	if err := errors.Join(db.Check(), db.VerifyJournal(), db.CheckSchema(), db.CheckLinks()); err != nil {
		g.damaged++
		g.fault("%v", err)
	}
	missing := 0
	for probe, times := range acked {
		for _, at := range times {
			if has, err := db.HasReading(probe, at); err != nil || !has {
				missing++
			}
		}
	}
	if stored, err := db.CountReadings(); err != nil || stored < int64(all) {
		missing = max(missing, all-int(stored)) // older ones
	}
	g.lose(missing)
	for _, m := range rang {
		if !tried(db, m) {
			g.untold++
			g.fault("message %d of alarm %d reached the phone and has no attempt", m.Message, m.Alarm)
		}
	}
}

func (g *grid) loseAll(acked map[string][]time.Time) {
	n := 0
	for _, times := range acked {
		n += len(times)
	}
	g.lose(n)
}

func (g *grid) lose(n int) {
	if n == 0 {
		return
	}
	g.lost, g.lostCuts, g.worst = g.lost+n, g.lostCuts+1, max(g.worst, n)
	g.fault("%d acknowledged readings are not there", n)
}

// tried reports whether the message is stored with an attempt to send it.
func tried(db *store.DB, m ring) bool {
	stored, err := db.MessagesOf(m.Alarm)
	for _, s := range stored {
		if s.ID == m.Message {
			return err == nil && len(s.Attempts) > 0
		}
	}
	return false
}

// lookAtCopies wants every copy that was made, and whole each that has its name.
func (g *grid) lookAtCopies(folder string, backed []string) {
	for _, name := range backed {
		g.copies++
		out, err := exec.Command(binary(g.t, full), "backup", "--examine", filepath.Join(folder, name)).CombinedOutput()
		if err != nil {
			g.brokenCopies++
			g.fault("copy %s: %v %s", name, err, out)
		}
	}
}

// print writes the lines that deploy/soak.sh reads.
func (g *grid) print() {
	g.t.Helper()
	if g.what != full {
		g.t.Logf("soak power_%s_missing %d readings >=1 -", g.what.word, g.lost)
		return
	}
	g.t.Logf("soak power_injected %d cuts - -", g.cuts)
	g.t.Logf("soak power_not_verified %d databases 0 -", g.cuts-g.verified.met)
	g.t.Logf("soak power_missing %d readings 0 -", g.lost)
	g.t.Logf("soak power_damaged %d databases 0 -", g.damaged+g.brokenCopies)
	g.t.Logf("soak power_untold %d messages 0 -", g.untold)
}

// told is what a run came to, for people and for the table in DEVELOPERS.md.
func (g *grid) told() string {
	return fmt.Sprintf("synchronous %s: %d cuts of power; looked for %d acknowledged readings, %d missing in %d of the cuts (worst %d); %d databases damaged; "+
		"%d of %d messages without their attempt; %d of %d copies not whole; flitch verify: %s",
		g.what.word, g.cuts, g.acked, g.lost, g.lostCuts, g.worst, g.damaged, g.untold, g.rang, g.brokenCopies, g.copies, g.verified)
}
