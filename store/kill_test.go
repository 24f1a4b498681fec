package store

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// The victim is this test binary, started again with these in its environment.
const (
	victimPath = "FLITCH_TEST_VICTIM"
	victimLies = "FLITCH_TEST_VICTIM_LIES" // control: prints what it never commits
)

// victim commits readings and journal lines until it is killed, and prints each
// reading's key after its commit.
func victim(path string) {
	db, err := Open(path)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	lies := os.Getenv(victimLies) != ""
	for first := int(db.LastSeq()); ; {
		group := plains(first, 1+first%90)
		first += len(group)
		if err := commitGroup(db, group, lies); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		var keys strings.Builder
		for _, r := range group {
			fmt.Fprintf(&keys, "%s %d\n", r.Probe, r.Measured.UnixMilli())
		}
		os.Stdout.WriteString(keys.String())
	}
}

func commitGroup(db *DB, group []process.Reading, lies bool) error {
	if lies {
		return nil
	}
	if _, err := db.CommitIntake(group, nil); err != nil {
		return err
	}
	return db.Update(func(tx *Tx) error {
		return tx.AppendJournal(process.JournalLine{At: group[0].Measured, Kind: "note", Text: "stored"})
	})
}

// killed runs a victim on path, kills it once it has printed some keys, after a
// further random time, and returns the keys it printed in full.
func killed(t *testing.T, path string, random *rand.Rand, more ...string) (keys []string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(append(os.Environ(), victimPath+"="+path), more...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil { // the rest of a line is no promise
			break
		}
		if len(keys) == 0 {
			defer time.AfterFunc(time.Duration(random.IntN(60_000))*time.Microsecond, func() { _ = cmd.Process.Kill() }).Stop()
		}
		keys = append(keys, strings.TrimSuffix(line, "\n"))
	}
	_ = cmd.Wait() // it was killed: that is an error
	return keys
}

// missing returns those of the keys that are not in db.
func missing(t *testing.T, db *DB, keys []string) (lost []string) {
	t.Helper()
	for _, key := range keys {
		var probe string
		var ms int64
		if _, err := fmt.Sscan(key, &probe, &ms); err != nil {
			t.Fatalf("key %q: %v", key, err)
		}
		if !must[bool](t)(db.HasReading(probe, fromMilli(ms))) {
			lost = append(lost, key)
		}
	}
	return lost
}

// TestAcknowledgedReadingSurvivesKill kills a writer 20 times, each going on where
// the last was cut off.
func TestAcknowledgedReadingSurvivesKill(t *testing.T) {
	path := newPath(t)
	random := rand.New(rand.NewPCG(20, 26))
	total := 0
	for kill := range 20 {
		keys := killed(t, path, random)
		total += len(keys)
		if len(keys) == 0 {
			t.Fatalf("kill %d: the victim printed nothing", kill)
		}
		db := open(t, path) // the lock went with the process
		if lost := missing(t, db, keys); len(lost) > 0 {
			t.Errorf("kill %d: %d of %d keys lost, first %s", kill, len(lost), len(keys), lost[0])
		}
		if err := db.Check(); err != nil {
			t.Errorf("kill %d: %v", kill, err)
		}
		if err := db.VerifyJournal(); err != nil {
			t.Errorf("kill %d: %v", kill, err)
		}
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}
	t.Logf("%d keys printed", total)
}

// TestKillHarnessSeesALoss is the control: a victim that prints what it did not
// commit must be caught.
func TestKillHarnessSeesALoss(t *testing.T) {
	path := newPath(t)
	keys := killed(t, path, rand.New(rand.NewPCG(1, 1)), victimLies+"=1")
	if lost := missing(t, open(t, path), keys); len(keys) == 0 || len(lost) != len(keys) {
		t.Errorf("%d keys printed, %d seen as lost, want all", len(keys), len(lost))
	}
}

// killedAfter runs this test binary with the environment and kills it a time after it has
// printed so many lines.
func killedAfter(t *testing.T, env []string, lines int, after time.Duration) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env, cmd.Stderr = append(os.Environ(), env...), os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewScanner(out)
	for range lines {
		if !said.Scan() {
			t.Fatal("the victim ended before it said anything")
		}
	}
	if after > 0 {
		<-time.After(after)
	}
	_ = cmd.Process.Kill()
	_ = cmd.Wait() // it was killed: that is an error
}
