package killpoint

import "golang.org/x/sys/unix"

// olderCalls are those that newer kernels have under one name only; SQLite's C uses them.
var olderCalls = map[uint64]shape{
	unix.SYS_OPEN: {"create", -1, 0, 1}, unix.SYS_CREAT: {"create", -1, 0, -1}, unix.SYS_MKDIR: {"mkdir", -1, 0, -1}, unix.SYS_UNLINK: {"remove", -1, 0, -1}, unix.SYS_RMDIR: {"remove", -1, 0, -1},
	unix.SYS_RENAME: {"rename", -1, 1, -1}, unix.SYS_LINK: {"link", -1, 1, -1}, unix.SYS_CHMOD: {"chmod", -1, 0, -1}, unix.SYS_TRUNCATE: {"truncate", -1, 0, -1},
}
