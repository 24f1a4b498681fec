package main

import (
	"fmt"
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

// A flitch that is killed again and again, as by a fault in it, tells people so, and goes on trying.
func TestACrashLoopIsTold(t *testing.T) {
	dir := t.TempDir()
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(dir, "notify"), Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer socket.Close()
	phone := newDeskPhone(t, nil)
	l := installed(t, dir)
	l.amend("\n[[probe]]", "\n[[probe]]", fmt.Sprintf("\n[[channel]]\nname = \"desk\"\nkind = \"http\"\nlevel = \"tell\"\nurl = %q\n", phone.server.URL))
	l.env = append(os.Environ(), "NOTIFY_SOCKET="+filepath.Join(dir, "notify"))
	for range 5 {
		l.start()
		l.kill()
	}
	if phone.has("again and again") {
		t.Error("it is told before")
	}
	l.start()
	if !phone.has("flitch is not watching") || !phone.has("flitch ends again and again: 5 times within 30m0s") {
		t.Errorf("the phone has %q", phone.heard)
	}
	if out, err := exec.Command("flitch", "health", "--alive", "--url", l.page).CombinedOutput(); err != nil {
		t.Errorf("and then it does not run: %v %s", err, out)
	}
	l.kill()
	t.Log("6 kills")
}
