package killpoint

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"golang.org/x/sys/unix"
)

// A shape says where the arguments of a call are.
type shape struct {
	name  string
	fd    int // argument that is a file descriptor, or -1
	path  int // argument that is a path, or -1
	flags int // argument with the flags of an open, or -1
}

// calls are those that change a file, or tell somebody something.
var calls = map[uint64]shape{
	unix.SYS_WRITE: {"write", 0, -1, -1}, unix.SYS_PWRITE64: {"pwrite", 0, -1, -1}, unix.SYS_WRITEV: {"write", 0, -1, -1}, unix.SYS_PWRITEV: {"pwrite", 0, -1, -1},
	unix.SYS_SENDTO: {"write", 0, -1, -1}, unix.SYS_SENDMSG: {"write", 0, -1, -1}, unix.SYS_SENDFILE: {"write", 0, -1, -1},
	unix.SYS_COPY_FILE_RANGE: {"write", 2, -1, -1}, unix.SYS_SPLICE: {"write", 2, -1, -1},
	unix.SYS_FSYNC: {"sync", 0, -1, -1}, unix.SYS_FDATASYNC: {"sync", 0, -1, -1},
	unix.SYS_FTRUNCATE: {"truncate", 0, -1, -1}, unix.SYS_FALLOCATE: {"allocate", 0, -1, -1}, unix.SYS_FCHMOD: {"chmod", 0, -1, -1}, unix.SYS_FCHMODAT: {"chmod", -1, 1, -1},
	unix.SYS_OPENAT: {"create", -1, 1, 2}, unix.SYS_MKDIRAT: {"mkdir", -1, 1, -1}, unix.SYS_UNLINKAT: {"remove", -1, 1, -1},
	unix.SYS_RENAMEAT: {"rename", -1, 3, -1}, unix.SYS_RENAMEAT2: {"rename", -1, 3, -1}, unix.SYS_LINKAT: {"link", -1, 3, -1}, unix.SYS_SYMLINKAT: {"link", -1, 2, -1},
}

func watched() (out []uint32) {
	for number := range calls {
		out = append(out, uint32(number))
	}
	for number := range olderCalls {
		out = append(out, uint32(number))
	}
	return out
}

// A call is one that is about to be made.
type call struct {
	pid    int
	number uint64
	args   [6]uint64
}

// point names what the call would do, or nothing when nobody could see it: a file that is
// only opened, a word to another thread, a line on the terminal.
func (c call) point() string {
	s, known := calls[c.number]
	if !known {
		if s, known = olderCalls[c.number]; !known {
			return ""
		}
	}
	if s.flags >= 0 && c.args[s.flags]&(unix.O_CREAT|unix.O_TRUNC) == 0 {
		return ""
	}
	if s.path >= 0 {
		return s.name + " " + plainName(c.text(c.args[s.path], 512))
	}
	if int32(c.args[s.fd]) == -1 { // Mark
		return c.text(c.args[1], int(min(c.args[2], 200)))
	}
	target, err := os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", c.pid, int32(c.args[s.fd])))
	switch {
	case err != nil || strings.HasPrefix(target, "anon_inode") || strings.HasPrefix(target, "pipe:") || isDevice(target):
		return ""
	case strings.HasPrefix(target, "socket:"):
		return "send " + c.said()
	}
	return s.name + " " + plainName(target)
}

// isDevice: a terminal, and not a file in memory.
func isDevice(target string) bool {
	return strings.HasPrefix(target, "/dev/") && !strings.HasPrefix(target, "/dev/shm/")
}

// said is what a message to a peer begins with, as far as it tells what it is.
func (c call) said() string {
	text := c.text(c.args[1], int(min(c.args[2], 64)))
	switch {
	case len(text) >= 2 && text[0] == 0x40 && text[1] == 2:
		return "PUBACK"
	case len(text) > 0 && text[0] == 0x20:
		return "CONNACK"
	case len(text) > 0 && text[0] == 0x10:
		return "CONNECT"
	case len(text) > 0 && text[0] == 0x82:
		return "SUBSCRIBE"
	case strings.HasPrefix(text, "HTTP/"):
		return "answer"
	case strings.HasPrefix(text, "POST"):
		return "POST"
	}
	return "other"
}

var chance = regexp.MustCompile(`[0-9]{5,}[0-9TZ]*`)

// plainName is the name of a file without its folder and without what is of chance in it.
func plainName(path string) string { return chance.ReplaceAllString(filepath.Base(path), "N") }

// text reads memory of the program up to a zero byte or n bytes.
func (c call) text(at uint64, n int) string {
	if n == 0 {
		return ""
	}
	buffer := make([]byte, n)
	into := unix.Iovec{Base: &buffer[0]}
	into.SetLen(n)
	got, err := unix.ProcessVMReadv(c.pid, []unix.Iovec{into}, []unix.RemoteIovec{{Base: uintptr(at), Len: n}}, 0)
	if err != nil {
		return ""
	}
	text := string(buffer[:got])
	if end := strings.IndexByte(text, 0); end > 1 { // a PUBACK has zeros
		text = text[:end]
	}
	return text
}
