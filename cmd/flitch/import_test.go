package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/store"
)

// A larder is a folder with a running daemon, which a test may kill.
type larder struct {
	t      testing.TB
	dir    string
	daemon *exec.Cmd
	page   string
	env    []string // nil: that of the test
}

func newLarder(t testing.TB) *larder {
	t.Helper()
	l := installed(t, t.TempDir())
	l.start()
	return l
}

// installed is a larder below a folder, whose daemon does not run yet.
func installed(t testing.TB, below string) *larder {
	t.Helper()
	l := &larder{t: t, dir: filepath.Join(below, "larder")}
	if out, err := exec.Command("flitch", "init", l.dir).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	path := filepath.Join(l.dir, "flitch.toml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, port := range []string{"8411", "1883"} {
		text = bytes.ReplaceAll(text, []byte(`listen = "127.0.0.1:`+port), []byte(`listen = "127.0.0.1:0`))
	}
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.kill)
	return l
}

// start runs the daemon until it says where its page is.
func (l *larder) start() {
	l.t.Helper()
	l.daemon = exec.Command("flitch", "run", "--config", filepath.Join(l.dir, "flitch.toml"))
	l.daemon.Env = l.env
	out, err := l.daemon.StdoutPipe()
	if err == nil {
		err = l.daemon.Start()
	}
	if err != nil {
		l.t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		l.t.Fatalf("the daemon says %q, %v", line, err)
	}
	l.page = strings.TrimSpace(strings.TrimPrefix(line, "page "))
}

// kill ends the daemon as a power cut does.
func (l *larder) kill() {
	if l.daemon == nil {
		return
	}
	_ = l.daemon.Process.Kill()
	_ = l.daemon.Wait()
	l.daemon = nil
}

// importing is the command for a file, against the daemon of now.
func (l *larder) importing(file string, more ...string) *exec.Cmd {
	c := exec.Command("flitch", append([]string{"import", file, "--url", l.page, "--probe", "alder-bottle", "--time", "time", "--value", "temp", "--unit", "C",
		"--time-format", "unix", "--yes", "--by", "T.V."}, more...)...)
	return c
}

// until starts an import and returns once a line of its progress begins so: 5 is from 50 to 59 %.
func (l *larder) until(c *exec.Cmd, progress string) {
	l.t.Helper()
	err1, err := c.StderrPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		l.t.Fatal(err)
	}
	lines := bufio.NewScanner(err1)
	for lines.Scan() {
		if strings.HasPrefix(lines.Text(), progress) {
			go io.Copy(io.Discard, err1)
			return
		}
	}
	l.t.Fatalf("the import ended before %s", progress)
}

const manyRows = 60_000

func manyRowsFile(t testing.TB, dir string) (path string, first time.Time) {
	t.Helper()
	first = time.Now().Add(-manyRows * 2 * time.Second).Truncate(time.Second)
	var text strings.Builder
	text.WriteString("time,temp\n")
	for i := range manyRows {
		fmt.Fprintf(&text, "%d,%.2f\n", first.Unix()+int64(i), rowValue(i))
		if i%1000 == 500 {
			text.WriteString("torn\n")
		}
	}
	path = filepath.Join(dir, "night.csv")
	if err := os.WriteFile(path, []byte(text.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path, first
}

func rowValue(i int) float64 { return math.Round(300+float64(i%97)) / 100 }

// An import is killed, and then its daemon, each in the middle. Run once more it ends with
// exactly the rows of the file, each once, and says which lines it could not take.
func TestAnImportThatIsKilledIsRunAgain(t *testing.T) {
	l := newLarder(t)
	file, first := manyRowsFile(t, l.dir)

	cut := l.importing(file)
	l.until(cut, "2")
	if err := cut.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cut.Wait()

	again := l.importing(file)
	l.until(again, "5")
	l.kill()
	if err := again.Wait(); err == nil {
		t.Error("an import whose daemon was killed ended well")
	}

	l.start()
	out, err := l.importing(file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var fresh, known int
	said := string(out[strings.Index(string(out), "imported "):])
	if _, err := fmt.Sscanf(said, "imported %d new, %d were there already", &fresh, &known); err != nil || fresh+known != manyRows || fresh == 0 || known == 0 {
		t.Errorf("%v, said:\n%s", err, said)
	}
	if !strings.Contains(said, "60 rows not taken:\n  line 503: ") || !strings.Contains(said, "and 50 more") {
		t.Errorf("the torn rows are not told:\n%s", said)
	}
	l.kill()
	l.exactly(first)
}

// exactly demands the rows of the file in the database, and no others.
func (l *larder) exactly(first time.Time) {
	l.t.Helper()
	db, err := store.Open(filepath.Join(l.dir, "flitch.db"))
	if err != nil {
		l.t.Fatal(err)
	}
	defer db.Close()
	n := 0
	err = db.EachReading([]string{"alder-bottle"}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error {
		if want := first.Add(time.Duration(n) * time.Second); !r.Measured.Equal(want) || r.Value != rowValue(n) || !r.IsImported() {
			return fmt.Errorf("row %d is %+v, want %v at %s", n, r, rowValue(n), want)
		}
		n++
		return nil
	})
	if err != nil || n != manyRows {
		l.t.Errorf("%d rows, %v", n, err)
	}
}

// Stopped by the daemon's end, an import says from which line to go on; from there it ends
// with the same.
func TestAnImportGoesOnFromItsLine(t *testing.T) {
	l := newLarder(t)
	file, first := manyRowsFile(t, l.dir)
	cut := l.importing(file)
	var said bytes.Buffer
	pipe, err := cut.StderrPipe()
	if err == nil {
		err = cut.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(pipe)
	for lines.Scan() {
		if strings.HasPrefix(lines.Text(), "3") {
			l.kill()
		}
		fmt.Fprintln(&said, lines.Text())
	}
	if err := cut.Wait(); err == nil {
		t.Error("an import whose daemon was killed ended well")
	}
	_, line, ok := strings.Cut(said.String(), "--from-line ")
	if !ok {
		t.Fatalf("said:\n%s", said.String())
	}
	l.start()
	out, err := l.importing(file, "--from-line", strings.TrimSpace(line)).Output()
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(out), fmt.Sprintf("imported %d new", manyRows)) {
		t.Error("it began at the beginning")
	}
	l.kill()
	l.exactly(first)
}
