package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"flitch/cmd/flitch/internal/keyfile"
)

// A record that does not fit on the disk leaves the one that was there, and no part of
// itself: not under the name asked for, nor under another.
func TestAFullDiskLeavesNoHalfRecord(t *testing.T) {
	small := t.TempDir()
	if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=256k"); err != nil {
		t.Fatalf("this test mounts a small disk and needs root: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(small, syscall.MNT_DETACH) })
	for _, name := range []string{"record.pdf", "new.csv"} {
		path := filepath.Join(small, name)
		if name == "record.pdf" {
			if err := keyfile.WriteFrom(path, strings.NewReader("the old one"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if err := keyfile.WriteFrom(path, strings.NewReader(strings.Repeat("reading\n", 1<<17)), 0o644); !errors.Is(err, syscall.ENOSPC) {
			t.Errorf("%s: got %v, want no space", name, err)
		}
	}
	files, err := os.ReadDir(small)
	if err != nil || len(files) != 1 || files[0].Name() != "record.pdf" {
		t.Fatalf("%d files are there, %v", len(files), err)
	}
	if text, err := os.ReadFile(filepath.Join(small, "record.pdf")); err != nil || string(text) != "the old one" {
		t.Errorf("the old record is %q, %v", text, err)
	}
}

// An answer that breaks off, as that of a daemon whose disk fails, leaves nothing either.
func TestAnAnswerThatBreaksOffLeavesNoHalfRecord(t *testing.T) {
	folder := t.TempDir()
	if err := keyfile.WriteFrom(filepath.Join(folder, "record.pdf"), torn{}, 0o644); err == nil {
		t.Fatal("half a record was taken for a whole one")
	}
	if files, err := os.ReadDir(folder); err != nil || len(files) > 0 {
		t.Errorf("%d files are left, %v", len(files), err)
	}
}

type torn struct{}

func (torn) Read(p []byte) (int, error) { return copy(p, "%PDF"), errors.New("connection reset") }

// A record goes through a pipe or a device and to the end of a link, and takes the place of none.
func TestARecordReplacesOnlyAFile(t *testing.T) {
	const text = "the record"
	folder := t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=1m"); err != nil { // devices work there
		t.Fatalf("this test mounts a small disk and needs root: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(folder, syscall.MNT_DETACH) })
	in := func(name string) string { return filepath.Join(folder, name) }
	write := func(name string) {
		t.Helper()
		if err := (recordCommand{Out: in(name)}).write(strings.NewReader(text)); err != nil {
			t.Fatal(err)
		}
	}
	kind := func(name string, want fs.FileMode) {
		t.Helper()
		if info, err := os.Lstat(in(name)); err != nil || info.Mode().Type() != want {
			t.Errorf("%s is %v, %v", name, info.Mode(), err)
		}
	}
	holds := func(name, want string) {
		t.Helper()
		if got, err := os.ReadFile(in(name)); err != nil || string(got) != want {
			t.Errorf("%s holds %q, %v", name, got, err)
		}
	}
	if err := syscall.Mknod(in("null"), syscall.S_IFCHR|0o600, 1<<8|3); err != nil {
		t.Fatal(err)
	}
	write("null")
	kind("null", fs.ModeDevice|fs.ModeCharDevice)

	if err := syscall.Mkfifo(in("pipe"), 0o600); err != nil {
		t.Fatal(err)
	}
	came := make(chan string)
	go func() { read, _ := os.ReadFile(in("pipe")); came <- string(read) }()
	write("pipe")
	if got := <-came; got != text {
		t.Errorf("through the pipe came %q", got)
	}
	kind("pipe", fs.ModeNamedPipe)

	if err := os.WriteFile(in("file"), []byte("the one before, which is longer"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("file", in("link")); err != nil {
		t.Fatal(err)
	}
	write("link")
	kind("link", fs.ModeSymlink)
	holds("file", text)
	write("new")
	holds("new", text)
}
