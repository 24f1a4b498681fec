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

	"flitch/cmd/flitch/internal/flitchtest"
)

// A build is flitch as it is, or a control that breaks one promise.
type build struct{ word string }

var (
	full   = build{"FULL"}
	normal = build{"NORMAL"} // does not wait for the disk at each commit
	off    = build{"OFF"}    // never waits for the disk
	early  = build{"early"}  // acknowledges before it stores
	blind  = build{"blind"}  // evaluates nothing that is not stored
)

// weakEnv tells the binary of the controls which promise to break. The product has no such
// setting: that binary is the same source with a few words changed while it is compiled.
const weakEnv = "FLITCH_TEST_WEAK"

type swap struct{ file, from, to string }

var swaps = []swap{
	{"store/dsn.go", "import (", "import (\n\t\"os\""},
	{"store/dsn.go", `&_synchronous=FULL"`, `&_synchronous=" + weak()`},
	{"store/dsn.go", "level != 2", `level != map[string]int{"FULL": 2, "NORMAL": 1, "OFF": 0}[weak()]`},
	{"store/dsn.go", "// address is", `func weak() string {
	if w := os.Getenv("` + weakEnv + `"); w == "NORMAL" || w == "OFF" {
		return w
	}
	return "FULL"
}

// address is`},
	{"ingest/loop.go", "import (", "import (\n\t\"os\""},
	{"ingest/loop.go", "	if err := in.commit(b, giveUp)", "	early := os.Getenv(\"" + weakEnv + "\") == \"early\"\n	if early {\n		acks <- b.items\n	}\n	if err := in.commit(b, giveUp)"},
	{"ingest/loop.go", "	in.leaveLarge(b)\n	acks <- b.items\n", "	in.leaveLarge(b)\n	if !early {\n		acks <- b.items\n	}\n"},
	{"process/engine/memory.go", "import (", "import (\n\t\"os\""},
	{"process/engine/memory.go", "if len(readings) == 0 ||", `if os.Getenv("` + weakEnv + `") == "blind" || len(readings) == 0 ||`},
}

// The binaries: flitch, and the one of the controls, which is built when one is tried.
var (
	flitch   string
	building sync.Mutex
	weak     string
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
	return flitchtest.Around(func(path string) int { flitch = path; return m.Run() })
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

// binary is flitch, or the controls, which are built once.
func binary(t *testing.T, b build) string {
	t.Helper()
	if b == full {
		return flitch
	}
	building.Lock()
	defer building.Unlock()
	if weak != "" {
		return weak
	}
	folder, err := os.MkdirTemp(filepath.Dir(flitch), "weak-")
	if err == nil {
		weak, err = flitchtest.Build(folder, "-overlay", overlay(t, folder))
	}
	if err != nil {
		t.Fatal(err)
	}
	return weak
}

// overlay writes into a folder what the go command is to read instead of files of the product.
func overlay(t *testing.T, folder string) string {
	t.Helper()
	texts, replace := map[string]string{}, map[string]string{}
	for _, c := range swaps {
		source, err := filepath.Abs("../../../../" + c.file)
		if err != nil {
			t.Fatal(err)
		}
		if texts[source] == "" {
			texts[source] = string(read(t, source))
		}
		if strings.Count(texts[source], c.from) != 1 {
			t.Fatalf("%s has %q %d times: the controls have to be told what to change", source, c.from, strings.Count(texts[source], c.from))
		}
		texts[source] = strings.Replace(texts[source], c.from, c.to, 1)
	}
	for source, text := range texts {
		weak := filepath.Join(folder, strings.ReplaceAll(filepath.Base(filepath.Dir(source)), "/", "-")+"-"+filepath.Base(source))
		replace[source] = weak
		write(t, weak, []byte(text))
	}
	list, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "overlay.json")
	write(t, path, list)
	return path
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func write(t *testing.T, path string, text []byte) {
	t.Helper()
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
}
