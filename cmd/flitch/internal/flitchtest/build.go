package flitchtest

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// Build makes flitch in a folder and returns its path. It is made as people make it, without
// the race detector, unless args tell the go command something else: -race, -overlay FILE.
func Build(folder string, args ...string) (string, error) {
	path := filepath.Join(folder, "flitch")
	command := exec.Command("go", append(append([]string{"build", "-o", path}, args...), "flitch/cmd/flitch")...)
	if out, err := command.CombinedOutput(); err != nil {
		return "", fmt.Errorf("build: %w\n%s", err, out)
	}
	return path, forget(path)
}

// forget drops what the system keeps of a file in memory, so that a program is read from the disk
// when it starts, as after a boot. What was just written is in memory in large pieces, and a
// program's resident memory would be all of it, used or not.
func forget(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	if err := file.Sync(); err != nil {
		return err
	}
	return unix.Fadvise(int(file.Fd()), 0, 0, unix.FADV_DONTNEED)
}

// Around builds flitch once for all tests of a package, in a folder of its own, and removes it
// when tests returns. For TestMain; what it returns is the status to exit with.
func Around(tests func(binary string) int) int {
	folder, err := os.MkdirTemp("", "flitch-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	binary, err := Build(folder)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return tests(binary)
}
