package killpoint

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"golang.org/x/sys/unix"
)

const folder = "FLITCH_TEST_KILLPOINT_FOLDER"

func TestMain(m *testing.M) {
	Install()
	if dir := os.Getenv(folder); dir != "" {
		if err := work(dir); err != nil {
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// work is the program to be killed: six points, from several threads.
func work(dir string) error {
	done := make(chan error)
	go func() {
		Mark("before all")
		done <- os.WriteFile(filepath.Join(dir, "draft"), []byte("whole"), 0o600) // create, write
	}()
	err := <-done
	go func() { done <- os.Rename(filepath.Join(dir, "draft"), filepath.Join(dir, "name")) }()
	err = errors.Join(err, <-done)
	go func() { done <- os.Mkdir(filepath.Join(dir, "folder"), 0o700) }()
	err = errors.Join(err, <-done)
	return errors.Join(err, os.Remove(filepath.Join(dir, "folder")))
}

var sixPoints = []string{"before all", "create draft", "write draft", "rename name", "mkdir folder", "remove folder"}

func TestAProgramIsKilledBeforeEachCall(t *testing.T) {
	for n := 1; ; n++ {
		dir := t.TempDir()
		count := NewCount(n)
		status := killed(t, count, dir)
		seen := count.Seen()
		if count.Killed() == "" {
			// os.Remove tries to unlink, then to remove a folder.
			if want := append(slices.Clone(sixPoints), "remove folder"); status.ExitStatus() != 0 || !slices.Equal(seen, want) {
				t.Fatalf("ended with %d after %q, want %q", status.ExitStatus(), seen, want)
			}
			return
		}
		if !status.Signaled() || status.Signal() != unix.SIGKILL || len(seen) != n {
			t.Fatalf("point %d: ended with %v after %q", n, status, seen)
		}
		_, drafted := os.Stat(filepath.Join(dir, "draft"))
		_, named := os.ReadFile(filepath.Join(dir, "name"))
		if (drafted == nil) != (n == 3 || n == 4) || (named == nil) != (n > 4) {
			t.Errorf("killed before %s: draft %v, name %v", strconv.Quote(count.Killed()), drafted, named)
		}
	}
}

// The second point of a name, of all that are called so.
func TestAProgramIsKilledBeforeAPointOfAName(t *testing.T) {
	for n, want := range map[int]int{1: 6, 2: 7, 3: 0} {
		count := NewCountOf("remove folder", n)
		status := killed(t, count, t.TempDir())
		if hit := count.Killed() == "remove folder" && status.Signaled() && len(count.Seen()) == want; hit != (want > 0) {
			t.Errorf("the %d-th: killed before %q after %q", n, count.Killed(), count.Seen())
		}
	}
}

func killed(t *testing.T, count *Count, dir string) unix.WaitStatus {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run=^$")
	cmd.Env = append(os.Environ(), folder+"="+dir)
	p, err := count.Start(cmd)
	if err != nil {
		t.Fatal(err)
	}
	status, err := p.Wait()
	if err != nil {
		t.Fatal(err)
	}
	return status
}
