package baddisk

import (
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
)

// A mount is a file system of the test's own.
type mount struct {
	t      *testing.T
	folder string
}

// run runs a program that the tests need, as root.
func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if path = "/usr/sbin/" + name; !exists(path) { // not on everyone's PATH
			t.Fatalf("%s is not installed (Debian: apt-get install mount e2fsprogs xfsprogs strace): %v", name, err)
		}
	}
	out, err := exec.Command(path, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %q: %v (this test mounts file systems and needs root)\n%s", name, args, err, out)
	}
	return string(out)
}

func exists(path string) bool { _, err := os.Stat(path); return err == nil }

// small mounts a file system in memory, of a size like "4m".
func small(t *testing.T, size string) *mount {
	t.Helper()
	return attach(t, "-t", "tmpfs", "-o", "size="+size, "tmpfs")
}

// attach mounts, by the arguments of mount(8), on a new folder, until the test ends.
func attach(t *testing.T, args ...string) *mount {
	t.Helper()
	m := &mount{t: t, folder: t.TempDir()}
	run(t, "mount", append(args, m.folder)...)
	t.Cleanup(m.detach)
	return m
}

// attachImage mounts the image of a file system through a loop device.
func attachImage(t *testing.T, image, options string) *mount {
	t.Helper()
	return attach(t, "-o", "loop,"+options, image)
}

// detach unmounts at once; what is still open goes on and the rest is freed at its end.
// The loop device goes with its mount.
func (m *mount) detach() {
	if m.folder == "" {
		return
	}
	if err := syscall.Unmount(m.folder, syscall.MNT_DETACH); err != nil {
		m.t.Errorf("unmount %s: %v", m.folder, err)
	}
	m.folder = ""
}

func (m *mount) path(name string) string { return filepath.Join(m.folder, name) }

// image makes an empty ext4 of some megabytes in a file.
func image(t *testing.T, path string, megabytes int64) string {
	t.Helper()
	blank(t, path, megabytes)
	run(t, "mkfs.ext4", "-q", "-F", "-E", "lazy_itable_init=0,lazy_journal_init=0", path)
	return path
}

func blank(t *testing.T, path string, megabytes int64) {
	t.Helper()
	f, err := os.Create(path)
	if err == nil {
		err = f.Truncate(megabytes << 20)
	}
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
}
