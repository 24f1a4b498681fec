package fleet

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitch/store"
	"flitch/store/fleet/fleettest"
)

// faults is how many of each kind a test injects: few with all tests, more by hand.
func faults(t testing.TB, few int) int {
	t.Helper()
	text := os.Getenv("FLITCH_FLEET_FAULTS")
	if text == "" {
		return few
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("FLITCH_FLEET_FAULTS=%q is no number of faults", text)
	}
	return n
}

// The line to PostgreSQL is cut in the middle of a COPY, before a commit arrives, and after it,
// so that only its answer is lost. After cuts what is there is exactly the beginning of what
// is here, and in the end all of it.
func TestALineThatIsCutLosesAndDoublesNothing(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	cutter := fleettest.NewCutter(t, h.Addr(), nil)
	each, chance := faults(t, 8), rand.New(rand.NewPCG(1, 2))
	left := map[fleettest.Cut]int{fleettest.InCopy: each, fleettest.BeforeCommit: each, fleettest.AfterCommit: each}
	cutter.Next = func() fleettest.Cut {
		at := fleettest.Cut(1 + chance.IntN(3))
		if left[at] == 0 || chance.IntN(3) == 0 {
			return fleettest.Nowhere
		}
		return at
	}
	sink := s.sink(h.parse(h.URLThrough(cutter, h.writer(), h.database)), "larder")
	for round := 0; left[fleettest.InCopy]+left[fleettest.BeforeCommit]+left[fleettest.AfterCommit] > 0; round++ {
		if round > 100*each {
			t.Fatal("the cuts do not come")
		}
		if sink.log.LastSeq() == sink.mark.logSeq || round == 0 {
			s.work(1_500)
		}
		before := map[fleettest.Cut]int64{}
		for at := range left {
			before[at] = cutter.Counted(at)
		}
		err := turn(sink)
		cut := false
		for at := range left {
			if n := int(cutter.Counted(at) - before[at]); n > 0 {
				cut, left[at] = true, max(left[at]-n, 0)
			}
		}
		if cut == (err == nil) {
			t.Fatalf("cut: %v, and the turn ended with %v", cut, err)
		}
		if err != nil && classOf(err) != Unreachable {
			t.Fatalf("%s: %v", classOf(err), err)
		}
		if err == nil || round%max(1, each/8) > 0 || sink.mark.logSeq == 0 {
			continue
		}
		if bad := h.differs(s, "larder", false); bad != "" {
			t.Fatalf("after a cut: %s", bad)
		}
	}
	cutter.Next = func() fleettest.Cut { return fleettest.Nowhere }
	if err := turn(sink); err != nil {
		t.Fatal(err)
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
	n := [3]int64{cutter.Counted(fleettest.InCopy), cutter.Counted(fleettest.BeforeCommit), cutter.Counted(fleettest.AfterCommit)}
	t.Logf("%d faults: cut %d times in a COPY, %d times before a commit, %d times after one; %d numbers, none lost, none doubled", n[0]+n[1]+n[2], n[0], n[1], n[2], s.db.LastSeq())
	t.Logf("soak fleet_injected %d faults >=1 %d", n[0]+n[1]+n[2], n[0]+n[1]+n[2])
	if n[0] == 0 || n[1] == 0 || n[2] == 0 {
		t.Error("a kind of cut was never made")
	}
}

// The control: where the mark is not moved with the rows, and nothing there keeps a number from
// coming twice, the same cuts double rows, and the comparison says so.
func TestTheComparisonSeesWhatIsDoubled(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	h.Do(h.database, `ALTER TABLE flitch.readings DROP CONSTRAINT readings_pkey;
		ALTER TABLE flitch.commands DROP CONSTRAINT commands_pkey; ALTER TABLE flitch.ticks DROP CONSTRAINT ticks_pkey;
		ALTER TABLE flitch.journal DROP CONSTRAINT journal_pkey; ALTER TABLE flitch.signatures DROP CONSTRAINT signatures_pkey;
		CREATE FUNCTION flitch.forget() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN NEW.log_seq = OLD.log_seq; NEW.log_digest = OLD.log_digest;
			NEW.journal_seq = OLD.journal_seq; NEW.journal_hash = OLD.journal_hash; RETURN NEW; END $$;
		CREATE TRIGGER forget BEFORE UPDATE ON flitch.sites FOR EACH ROW EXECUTE FUNCTION flitch.forget()`)
	cutter, commits := fleettest.NewCutter(t, h.Addr(), nil), 0
	cutter.Next = func() fleettest.Cut {
		if commits++; commits == 3 { // of a COPY and a commit for each piece: the first commit of rows
			return fleettest.AfterCommit
		}
		return fleettest.Nowhere
	}
	s.work(1_500)
	sink := s.sink(h.parse(h.URLThrough(cutter, h.writer(), h.database)), "larder")
	for range 2 {
		ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		_ = sink.turn(ctx) // it never comes to an end: nothing says how far it came
		cancel()
		hangUp(sink.conn)
		sink.conn = nil
	}
	if bad := h.differs(s, "larder", true); !strings.Contains(bad, "rows and lines here") {
		t.Errorf("rows came twice, and the comparison says %q", bad)
	}
}

// shedLasts is how many faults meet one site: after each, all that it ever sent is compared.
const shedLasts = 10

// PostgreSQL is killed at any moment, and so is its disk's peace: what it had said yes to is
// there when it is back.
func TestAPostgreSQLThatIsKilledLosesAndDoublesNothing(t *testing.T) {
	server := fleettest.Start(t)
	var h *house
	var s *shed
	var sink *Sink
	rows, lasts := int64(0), 120*time.Millisecond // how long a turn takes that is not hit
	kills, hit, tries, chance := faults(t, 4), 0, 0, rand.New(rand.NewPCG(3, 4))
	for ; hit < kills && tries < 20*kills; tries++ {
		if tries%shedLasts == 0 {
			h, s = houseAt(t, server), newShed(t)
			sink = s.sink(h.address(h.writer()), "larder")
		}
		s.work(12_000)
		rows += 12_000
		ended, began := make(chan error, 1), time.Now()
		go func() {
			err := turn(sink)
			if err == nil {
				lasts = time.Since(began)
			}
			ended <- err
		}()
		<-time.After(time.Duration(chance.Int64N(int64(lasts)))) // the moment is by chance
		server.Kill()
		if err := <-ended; err != nil {
			hit++
			if classOf(err) != Unreachable {
				t.Fatalf("%s: %v", classOf(err), err)
			}
		}
		server.Run()
		if err := turn(sink); err != nil && turnAgain(sink, err) != nil { // the first may find the old connection dead
			t.Fatal(err)
		}
		if bad := h.differs(s, "larder", true); bad != "" {
			t.Fatal(bad)
		}
	}
	t.Logf("%d faults: PostgreSQL killed, %d of them while something was sent; %d readings, none lost, none doubled", tries, hit, rows)
	t.Logf("soak fleet_server_kills %d kills - -", hit)
	if hit < kills {
		t.Errorf("only %d of %d kills hit a turn", hit, tries)
	}
}

// turnAgain is the error of another turn after one that found nobody.
func turnAgain(s *Sink, before error) error {
	if classOf(before) != Unreachable {
		return before
	}
	return turn(s)
}

const victimEnv = "FLITCH_FLEET_VICTIM"

func TestMain(m *testing.M) {
	if spec := os.Getenv(victimEnv); spec != "" {
		victim(spec)
	}
	code := m.Run()
	fleettest.End()
	os.Exit(code)
}

// victim is a daemon's sink, alone in a process that is killed.
func victim(spec string) {
	path, url, _ := strings.Cut(spec, " ")
	db, err := store.OpenReadOnly(path)
	if err == nil {
		var at Address
		if at, err = ParseAddress(url); err == nil {
			fmt.Println("ready")
			err = New(db, Options{Address: at, Site: "larder", Every: 10 * time.Millisecond, Clock: wall{}}).Run(context.Background())
		}
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

func TestADaemonThatIsKilledLosesAndDoublesNothing(t *testing.T) {
	var h *house
	var s *shed
	var url string
	kills, chance, rows, halfway := faults(t, 4), rand.New(rand.NewPCG(5, 6)), 0, 0
	for i := range kills {
		if i%shedLasts == 0 {
			h, s = newHouse(t), newShed(t)
			url = h.URL(h.writer(), h.database)
		}
		s.work(25_000) // some pieces
		rows += 25_000
		before := time.Time{}
		if sites := h.readAll(); len(sites) > 0 {
			before = sites[0].Heard
		}
		life := exec.Command(os.Args[0], "-test.run=^$")
		life.Env = append(os.Environ(), victimEnv+"="+s.path+" "+url)
		out, err := life.StdoutPipe()
		s.must(err)
		s.must(life.Start())
		out.Read(make([]byte, 6))
		sites := h.readAll()
		for end := time.Now().Add(time.Minute); len(sites) == 0 || !sites[0].Heard.After(before); sites = h.readAll() {
			if time.Now().After(end) {
				t.Fatal("the daemon says nothing")
			}
		}
		<-time.After(time.Duration(chance.IntN(60)) * time.Millisecond) // it has said its first word: a moment by chance after it
		life.Process.Kill()
		life.Wait()
		sites = h.readAll()
		if bad := h.differs(s, "larder", false); bad != "" && sites[0].mark.logSeq > 0 {
			t.Fatalf("after kill %d: %s", i+1, bad)
		}
		if sites[0].mark.logSeq < s.db.LastSeq() {
			halfway++
		}
		if i%shedLasts < shedLasts-1 && i < kills-1 {
			continue
		}
		if err := turn(s.sink(h.parse(url), "larder")); err != nil {
			t.Fatal(err)
		}
		if bad := h.differs(s, "larder", true); bad != "" {
			t.Fatal(bad)
		}
	}
	t.Logf("%d faults: the daemon killed, %d of them before all was sent; %d readings, none lost, none doubled", kills, halfway, rows)
	t.Logf("soak fleet_daemon_kills %d kills - -", kills)
	if halfway == 0 {
		t.Error("no kill came before the end")
	}
}

func (h *house) readAll() []*Site {
	h.t.Helper()
	r, err := Open(context.Background(), h.address("owner"))
	if err != nil {
		h.t.Fatal(err)
	}
	defer r.Close()
	sites, err := r.Sites(context.Background(), "")
	if err != nil {
		h.t.Fatal(err)
	}
	return sites
}
