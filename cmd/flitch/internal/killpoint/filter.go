package killpoint

import (
	"fmt"
	"os"
	"unsafe"

	"golang.org/x/sys/unix"
)

// environment tells a program that it is to be stopped at its calls.
const environment = "FLITCH_TEST_KILLPOINT"

// Install is called first thing in TestMain: in a program that Start has started it puts
// the filter over all threads of it, and in any other it does nothing.
func Install() {
	if os.Getenv(environment) == "" {
		return
	}
	if err := install(); err != nil {
		fmt.Fprintln(os.Stderr, "killpoint: no filter:", err)
		os.Exit(3)
	}
}

// offsetOfNumber is where struct seccomp_data has the number of the call.
const offsetOfNumber = 0

func install() error {
	numbers := watched()
	program := []unix.SockFilter{{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: offsetOfNumber}}
	for i, number := range numbers {
		// Equal: over the rest of the list and the line that lets pass, to the one that stops.
		program = append(program, unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, Jt: uint8(len(numbers) - i), K: number})
	}
	program = append(program,
		unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_ALLOW},
		unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_TRACE})
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return err
	}
	whole := unix.SockFprog{Len: uint16(len(program)), Filter: &program[0]}
	_, _, errno := unix.Syscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, unix.SECCOMP_FILTER_FLAG_TSYNC, uintptr(unsafe.Pointer(&whole)))
	if errno != 0 {
		return errno
	}
	return nil
}

// Mark is a point of the program's own, for a wrapper around its driver: a write to
// nowhere, which the filter sees and the kernel refuses.
func Mark(what string) { _, _ = unix.Write(-1, []byte(what)) }
