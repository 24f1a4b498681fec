package main

import (
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The daemon tells systemd when it works, feeds its watchdog, and says that it stops.
func TestSystemdIsTold(t *testing.T) {
	dir := t.TempDir()
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(dir, "notify"), Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer socket.Close()
	l := installed(t, dir)
	l.env = append(os.Environ(), "NOTIFY_SOCKET="+filepath.Join(dir, "notify"), "WATCHDOG_USEC=200000")
	l.start()
	hear := func(want string) {
		t.Helper()
		word := make([]byte, 100)
		for {
			n, err := socket.Read(word)
			if err != nil {
				t.Fatal(err)
			}
			if string(word[:n]) == want {
				return
			}
		}
	}
	hear("READY=1")
	hear("WATCHDOG=1")
	hear("WATCHDOG=1")
	if err := l.daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	hear("STOPPING=1")
	if err := l.daemon.Wait(); err != nil {
		t.Error(err)
	}
	l.daemon = nil
}

// systemd's own rating of the unit, 0 to 10.
func TestTheUnitIsHardened(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Fatal("systemd-analyze is not here, and the unit cannot be rated: apt-get install systemd")
	}
	out, err := exec.Command(tool, "security", "--offline=true", "--threshold=25", "../../deploy/flitch.service").CombinedOutput()
	if err != nil {
		t.Errorf("the exposure of the unit is over 2.5: %v\n%s", err, out)
	}
}
