package ship

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// mount mounts until the end of the test.
func mount(t *testing.T, from, to, kind string, flags uintptr, data string) {
	t.Helper()
	if err := os.MkdirAll(to, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount(from, to, kind, flags, data); err != nil {
		t.Fatalf("mounting %s on %s, which needs root: %v", kind+from, to, err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(to, syscall.MNT_DETACH); err != nil {
			t.Errorf("unmounting %s: %v", to, err)
		}
	})
}

// machine is the file system of this machine, on which what a test does is in memory only.
func machine(t *testing.T) (root string) {
	t.Helper()
	dir := t.TempDir()
	memory, root := filepath.Join(dir, "memory"), filepath.Join(dir, "root")
	mount(t, "memory", memory, "tmpfs", 0, "size=1g")
	for _, name := range []string{"upper", "work"} {
		if err := os.Mkdir(filepath.Join(memory, name), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	mount(t, "machine", root, "overlay", 0, "lowerdir=/,upperdir="+memory+"/upper,workdir="+memory+"/work")
	mount(t, "/dev", filepath.Join(root, "dev"), "", syscall.MS_BIND, "")
	mount(t, "proc", filepath.Join(root, "proc"), "proc", 0, "")
	mount(t, "run", filepath.Join(root, "run"), "tmpfs", 0, "mode=755") // no systemd runs there
	return root
}

// within runs a shell line in another root.
func within(root, line string) *exec.Cmd {
	c := exec.Command("chroot", root, "/bin/sh", "-c", line)
	c.Env = []string{"PATH=/usr/local/go/bin:/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "DEBIAN_FRONTEND=noninteractive", "HOME=/root"}
	return c
}

// goes runs a shell line in another root and wants it to end well.
func goes(t *testing.T, root, line string) string {
	t.Helper()
	c := within(root, line)
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", line, err, out)
	}
	return strings.TrimSpace(string(out))
}
