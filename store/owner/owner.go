// Package owner gives what root makes to whoever runs the daemon: a command that root types
// (restore, password, backup) must not leave behind a file that the daemon cannot read. A stick that
// knows no owners, and whoever is not root, leave things as they are.
package owner

import (
	"os"
	"path/filepath"
	"syscall"
)

// OfFolder gives an open file to the owner and group of the folder it lies in.
func OfFolder(f *os.File) { Like(f, filepath.Dir(f.Name())) }

// Like gives an open file or folder to the owner and group of something else. It goes by the open
// one, and not by a name that may have become that of another.
func Like(f *os.File, other string) {
	if uid, gid, ok := of(other); ok {
		_ = f.Chown(uid, gid)
	}
}

// of is who owns a file, where this process is root and may give to that one.
func of(path string) (uid, gid int, ok bool) {
	if os.Geteuid() != 0 {
		return 0, 0, false
	}
	info, err := os.Stat(path)
	if err != nil {
		return 0, 0, false
	}
	who, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, 0, false
	}
	return int(who.Uid), int(who.Gid), true
}
