package main

import (
	"bufio"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/killpoint"
	"flitch/process"
	"flitch/store"
)

// killStride in the environment is how many points lie between two that are tried; 1 tries all.
const killStride = "FLITCH_KILL_STRIDE"

// A deed is a command that makes files, killed before each thing it does until it ends by
// itself. After each kill nothing half has a name that counts, and the same command, said
// again, ends well and leaves what it leaves without a kill.
type deed struct {
	prepare func(t *testing.T, dir string)
	args    []string                       // @ is the folder
	program string                         // flitch, if nothing is said
	stop    bool                           // it is a daemon: told to stop once it says where its page is
	after   func(dir string) error         // after the kill, before it is said again
	again   func(t *testing.T, dir string) // clears away what a person is told to; nil: nothing
	whole   func(dir string) error         // after it ended well
	fewest  int                            // points, or the test proves nothing
}

func TestFilesAreWholeWhereverACommandIsKilled(t *testing.T) {
	stride := 9
	if text := os.Getenv(killStride); text != "" {
		var err error
		if stride, err = strconv.Atoi(text); err != nil || stride < 1 {
			t.Fatalf("%s=%s: a number from 1 on is wanted", killStride, text)
		}
	}
	page := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.Write(paper) }))
	t.Cleanup(page.Close)
	deeds := map[string]deed{
		"init":                       {args: []string{"init", "@/larder"}, after: initAfter, again: initAgain, whole: initWhole, fewest: 50},
		"backup":                     {prepare: furnished, args: []string{"backup", "--config", "@/larder/flitch.toml", "--to", "@/stick", "--secrets"}, after: stickWhole, again: nextSecond, whole: stickWhole, fewest: 40},
		"restore":                    {prepare: toRestore, args: []string{"restore", "@/stick/" + copyName, "--to", "@/larder", "--by", "T.V.", "--replace"}, after: restoreAfter, whole: restoreWhole, fewest: 40},
		"restore over a damaged one": {prepare: damaged, args: []string{"restore", "@/stick/" + copyName, "--to", "@/larder", "--by", "T.V.", "--replace"}, after: damagedAfter, whole: damagedWhole, fewest: 40},
		"record":                     {prepare: oldPaper, args: []string{"record", "OL-31-04", "--url", page.URL, "--format", "csv", "--out", "@/record.csv"}, after: paperWhole(true), whole: paperWhole(false), fewest: 4},
		"run":                        {prepare: withTLS, args: []string{"run", "--config", "@/larder/flitch.toml"}, stop: true, whole: runWhole, fewest: 60},
	}
	total := 0
	for name, d := range deeds {
		t.Run(name, func(t *testing.T) {
			points, kills, faults := d.everywhere(t, stride)
			for _, fault := range faults {
				t.Error(fault)
			}
			if total += kills; points < d.fewest || kills < points/stride/2 { // a daemon does not do as much in each of its lives
				t.Errorf("%d points and %d kills, want %d points or more and a kill at half of them", points, kills, d.fewest)
			}
			t.Logf("%d kills at %d points", kills, points)
		})
	}
	t.Logf("%d kills in %d commands", total, len(deeds))
	t.Logf("soak files_injected %d kills >=10 -", total)
}

func (d deed) everywhere(t *testing.T, stride int) (points, kills int, faults []string) {
	want := []string(nil)
	say := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	for n := 0; ; n = max(1, n+min(n, 1)*stride) { // 0 is without a kill, then 1, 1 + stride ...
		dir := filepath.Join(t.TempDir(), "d")
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		if d.prepare != nil {
			d.prepare(t, dir)
		}
		count := killpoint.NewCount(n)
		said, ok := d.run(t, dir, count)
		at := count.Killed()
		switch {
		case at == "" && !ok:
			t.Fatalf("point %d: not killed, and it failed:\n%s", n, said)
		case at == "" && n > 0:
			return points, kills, faults
		case at != "" && d.after != nil:
			if err := d.after(dir); err != nil {
				say("killed before %q (%d): %v", at, n, err)
			}
		}
		if at != "" {
			kills++
			if d.again != nil {
				d.again(t, dir)
			}
			if said, ok := d.run(t, dir, nil); !ok {
				say("killed before %q (%d), and said again: %s", at, n, said)
			}
		}
		if err := d.whole(dir); err != nil {
			say("killed before %q (%d), in the end: %v", at, n, err)
		}
		switch names := namesBelow(t, dir); {
		case n == 0:
			want, points = names, len(count.Seen())
		case !slices.Equal(names, want):
			say("killed before %q (%d), there is in the end\n  %q, without a kill\n  %q", at, n, names, want)
		}
		os.RemoveAll(dir)
	}
}

// run runs the command once, watched or not, and reports whether it ended well.
func (d deed) run(t *testing.T, dir string, count *killpoint.Count) (said string, ok bool) {
	t.Helper()
	args := make([]string, len(d.args))
	for i, a := range d.args {
		args[i] = strings.ReplaceAll(a, "@", dir)
	}
	cmd := exec.Command(cmp.Or(d.program, "flitch"), args...)
	cmd.Env = append(os.Environ(), "GORACE="+os.Getenv("GORACE")+" atexit_sleep_ms=0")
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var watched *killpoint.Process
	if count != nil {
		watched, err = count.Start(cmd)
	} else {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	for lines := bufio.NewScanner(out); lines.Scan(); {
		fmt.Fprintln(&text, lines.Text())
		if d.stop && strings.HasPrefix(lines.Text(), "page ") {
			cmd.Process.Signal(syscall.SIGTERM)
		}
	}
	if watched == nil {
		err := cmd.Wait()
		return text.String() + complaint.String(), err == nil
	}
	status, err := watched.Wait()
	return text.String() + complaint.String(), err == nil && status.Exited() && status.ExitStatus() == 0
}

var stamped = regexp.MustCompile(`[0-9]{8}T[0-9]{6}Z`)

// namesBelow lists files and folders; times of copies are chance.
func namesBelow(t *testing.T, dir string) (names []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		name, _ := filepath.Rel(dir, path)
		names = append(names, stamped.ReplaceAllString(name, "TIME"))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(names)
	return slices.Compact(names) // a copy that was whole when it was killed is one more
}

const (
	readingsOld  = 30 // in the copy
	readingsLive = 50 // in the database that is there
	copyName     = "flitch-20310502T120000Z"
)

var noonOfTheCopy = time.Date(2031, 5, 2, 12, 0, 0, 0, time.UTC)

// furnished is an installation with readings, a configuration and a secret.
func furnished(t *testing.T, dir string) { furnish(t, filepath.Join(dir, "larder"), readingsOld) }

func furnish(t *testing.T, folder string, readings int) {
	t.Helper()
	path := filepath.Join(folder, "flitch.db")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); err != nil {
		if err := store.Create(path); err != nil {
			t.Fatal(err)
		}
	}
	text := strings.NewReplacer("127.0.0.1:8411", "127.0.0.1:0", "127.0.0.1:1883", "127.0.0.1:0").Replace(config.Sample("Oddwick Lane Larder"))
	for name, text := range map[string]string{"flitch.toml": text, "flitch.db.passwords": "T.V. argon2id\n"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	var list []process.Reading
	for i := range readings {
		at := noonOfTheCopy.Add(time.Duration(i-readings) * time.Minute)
		list = append(list, process.Reading{Probe: "alder-bottle", Value: 3.5, Measured: at, Received: at})
	}
	if _, err := db.CommitIntake(list, nil); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

func initAfter(dir string) error {
	if text, err := os.ReadFile(filepath.Join(dir, "larder", "flitch.toml")); err == nil && string(text) != config.Sample("larder") {
		return fmt.Errorf("half a configuration of %d bytes", len(text))
	}
	return nil
}

// initAgain moves away what init says is already there.
func initAgain(t *testing.T, dir string) {
	for _, name := range []string{"flitch.toml", "flitch.db", "flitch.db-wal", "flitch.db-shm"} {
		if err := os.Remove(filepath.Join(dir, "larder", name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
	}
}

func initWhole(dir string) error {
	_, err := config.Load(filepath.Join(dir, "larder", "flitch.toml"))
	return errors.Join(err, holds(filepath.Join(dir, "larder", "flitch.db"), 0))
}

// holds opens the database as the daemon does, and counts.
func holds(path string, readings int) error {
	db, err := store.Open(path)
	if err != nil {
		return err
	}
	n := 0
	err = errors.Join(db.Check(), db.VerifyJournal(), db.EachReading([]string{"alder-bottle"}, time.Time{}, time.Time{}, func(int64, process.Reading) error { n++; return nil }), db.Close())
	if err == nil && n != readings {
		err = fmt.Errorf("%s holds %d readings, want %d", path, n, readings)
	}
	return err
}

// nextSecond waits for one: a copy that is whole bears the second's name, and flitch says so.
func nextSecond(t *testing.T, _ string) {
	for began := time.Now().Unix(); time.Now().Unix() == began; {
		<-time.After(10 * time.Millisecond)
	}
}

// stickWhole: every copy that has a name is whole.
func stickWhole(dir string) error {
	all, err := backup.List(filepath.Join(dir, "stick"))
	for _, c := range all {
		found, broken := backup.Examine(c.Folder)
		if broken == nil && found.Readings != readingsOld {
			broken = fmt.Errorf("%d readings", found.Readings)
		}
		_, config := config.LoadPublic(filepath.Join(c.Folder, "flitch.toml"))
		_, secret := os.Stat(filepath.Join(c.Folder, "flitch.db.passwords"))
		err = errors.Join(err, broken, config, secret)
	}
	return err
}
