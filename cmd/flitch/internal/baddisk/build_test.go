package baddisk

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
)

// A durability is what SQLite is told of when to wait for the disk, with the number by
// which it says that back.
type durability struct {
	word  string
	level int
}

// full is what flitch is built with; the others are the controls.
var (
	full   = durability{"FULL", 2}
	normal = durability{"NORMAL", 1}
	off    = durability{"OFF", 0}
)

// The binaries that were built, by what they keep. The controls are the same source with
// one word changed while it is compiled: the product has no setting for it.
var (
	building sync.Mutex
	folder   string
	built    = map[durability]string{}
)

func TestMain(m *testing.M) { os.Exit(around(m)) }

// insideEnv tells the test binary that its mounts are its own.
const insideEnv = "FLITCH_BADDISK_INSIDE"

// around runs the tests where nobody else sees what they mount: with the last of their
// processes all of it is gone, however they end.
func around(m *testing.M) int {
	if os.Getenv(insideEnv) == "" {
		return inside()
	}
	var err error
	if folder, err = os.MkdirTemp("", "flitch-baddisk-"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	return m.Run()
}

func inside() int {
	again := exec.Command(os.Args[0], os.Args[1:]...)
	again.Env = append(os.Environ(), insideEnv+"=1")
	again.Stdout, again.Stderr = os.Stdout, os.Stderr
	again.SysProcAttr = &syscall.SysProcAttr{Unshareflags: syscall.CLONE_NEWNS, Pdeathsig: syscall.SIGKILL}
	err := again.Run()
	if exit, ok := errors.AsType[*exec.ExitError](err); ok {
		return exit.ExitCode()
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "these tests mount small file systems of their own and need root:", err)
		return 1
	}
	return 0
}

// binary builds flitch once.
func binary(t *testing.T, d durability) string {
	t.Helper()
	building.Lock()
	defer building.Unlock()
	if path := built[d]; path != "" {
		return path
	}
	path := filepath.Join(folder, "flitch-"+d.word)
	args := []string{"build", "-o", path}
	if d != full {
		args = append(args, "-overlay", overlay(t, d))
	}
	if out, err := exec.Command("go", append(args, "flitch/cmd/flitch")...).CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	built[d] = path
	return path
}

// overlay writes what the go command is to read instead of the store's own file.
func overlay(t *testing.T, d durability) string {
	t.Helper()
	source, err := filepath.Abs("../../../../store/dsn.go")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(source)
	if err != nil {
		t.Fatal(err)
	}
	changed := string(text)
	for _, c := range [][2]string{{"&_synchronous=FULL", "&_synchronous=" + d.word}, {"level != 2", fmt.Sprintf("level != %d", d.level)}} {
		if strings.Count(changed, c[0]) != 1 {
			t.Fatalf("%s has %q %d times: this control has to be told what to change", source, c[0], strings.Count(changed, c[0]))
		}
		changed = strings.Replace(changed, c[0], c[1], 1)
	}
	weak := filepath.Join(folder, "dsn-"+d.word+".go")
	list, err := json.Marshal(map[string]any{"Replace": map[string]string{source: weak}})
	if err == nil {
		err = os.WriteFile(weak, []byte(changed), 0o600)
	}
	path := filepath.Join(folder, "overlay-"+d.word+".json")
	if err == nil {
		err = os.WriteFile(path, list, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return path
}
