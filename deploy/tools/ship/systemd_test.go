package ship

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// booting makes the kernel's folders in $ROOT and becomes systemd there, in a tree of control
// groups that begins with its own. /sys and /proc/sys are read-only, as systemd wants them in
// a container: it leaves the devices and settings of this machine alone. /dev/shm is its own,
// because at the end of a service systemd removes what the user of that has there.
const booting = `set -e
mount --make-rprivate /
mount -t proc proc $ROOT/proc
mount --bind $ROOT/proc/sys $ROOT/proc/sys
mount -o remount,bind,ro $ROOT/proc/sys
mount -t sysfs -o ro sysfs $ROOT/sys
mount -t tmpfs shm $ROOT/dev/shm
mount -t tmpfs -o mode=755 run $ROOT/run
exec unshare --cgroup sh -c '
	mount -t cgroup2 cgroup $ROOT/sys/fs/cgroup
	exec chroot $ROOT env -i container=ship PATH=/usr/sbin:/usr/bin:/sbin:/bin /lib/systemd/systemd --unit=basic.target'`

// A booted machine is a house in which systemd runs as the first process.
type booted struct {
	house
	pid string // of systemd, as this machine counts
}

// boot starts systemd on a machine of its own.
func boot(t *testing.T) *booted {
	t.Helper()
	b := &booted{house: house{t, machine(t)}}
	group := group(t)
	defer group.Close()
	said := &bytes.Buffer{}
	c := exec.Command("sh", "-c", booting)
	c.Env = []string{"PATH=" + os.Getenv("PATH"), "ROOT=" + b.root}
	c.Stdout, c.Stderr = said, said
	c.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWNS | syscall.CLONE_NEWPID | syscall.CLONE_NEWUTS | syscall.CLONE_NEWIPC,
		UseCgroupFD: true, CgroupFD: int(group.Fd()), Pdeathsig: syscall.SIGKILL,
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	t.Cleanup(func() { // with the first process all others of its namespace are killed
		_ = c.Process.Kill()
		<-ended
	})
	b.pid = strconv.Itoa(c.Process.Pid)
	b.until("systemd runs", func() bool {
		select {
		case err := <-ended:
			ended <- err
			t.Fatalf("systemd ended: %v\n%s", err, said)
		default:
		}
		out, _ := b.within("systemctl is-system-running").Output()
		return slices.Contains([]string{"running", "degraded"}, strings.TrimSpace(string(out)))
	})
	return b
}

// group is a control group for the processes of a test.
func group(t *testing.T) *os.File {
	t.Helper()
	tree := t.TempDir()
	mount(t, "cgroup", tree, "cgroup2", 0, "")
	path := filepath.Join(tree, fmt.Sprint("flitch-ship-", os.Getpid()))
	if err := os.Mkdir(path, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { // from below; all that was in it has ended
		out, err := exec.Command("find", path, "-depth", "-type", "d", "-exec", "rmdir", "{}", ";").CombinedOutput()
		if err != nil {
			t.Errorf("taking the control groups away: %v\n%s", err, out)
		}
	})
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// within runs a shell line as root of the booted machine.
func (b *booted) within(line string) *exec.Cmd {
	c := within(b.root, line)
	c.Args = append([]string{"nsenter", "--target", b.pid, "--mount", "--pid", "--uts", "--ipc", "--cgroup", "chroot"}, c.Args[1:]...)
	c.Path = "/usr/bin/nsenter"
	return c
}

func (b *booted) says(line string) string {
	b.t.Helper()
	return strings.TrimSpace(output(b.t, b.within(line)))
}

// state is one property of the unit.
func (b *booted) state(property string) string {
	b.t.Helper()
	return b.says("systemctl show --property " + property + " --value flitch")
}

func (b *booted) until(what string, is func() bool) {
	b.t.Helper()
	for end := time.Now().Add(patience); !is(); <-time.After(50 * time.Millisecond) {
		if time.Now().After(end) {
			b.t.Fatalf("not in %s: %s\n%s", patience, what, b.says("systemctl status --no-pager flitch; journalctl --no-pager --unit flitch || true"))
		}
	}
}

// restarted waits until the unit is active with another process than that.
func (b *booted) restarted(pid, why string) {
	b.t.Helper()
	b.until("started again after "+why, func() bool {
		now := strings.Fields(b.says("systemctl show --property ActiveState --property MainPID flitch")) // both of one moment
		return slices.Contains(now, "ActiveState=active") && !slices.Contains(now, "MainPID="+pid)
	})
	if got := b.says("flitch probe list --config " + configured); !strings.Contains(got, "3.4 °C") {
		b.t.Errorf("after %s the reading is gone:\n%s", why, got)
	}
}

// lays installs a package there, as dpkg does it on a machine with systemd.
func (b *booted) lays(path string) {
	b.t.Helper()
	output(b.t, exec.Command("cp", path, filepath.Join(b.root, "tmp/flitch.deb")))
	b.says("dpkg --force-unsafe-io --force-confdef -i /tmp/flitch.deb </dev/null 2>&1")
}

// hardened wants of the process what the unit says: a user of its own without rights, and a
// file system in which it writes where its data is and nowhere else.
func (b *booted) hardened(pid string) {
	b.t.Helper()
	status := b.says("cat /proc/" + pid + "/status")
	uid := b.says("id -u flitch")
	for _, want := range []string{"Uid:\t" + uid + "\t" + uid, "CapEff:\t0000000000000000", "CapBnd:\t0000000000000000", "NoNewPrivs:\t1", "Seccomp:\t2"} {
		if !strings.Contains(status, want) {
			b.t.Errorf("its process has not %q:\n%s", want, status)
		}
	}
	inside := "nsenter --target " + pid + " --mount --root -- setpriv --reuid flitch --regid flitch --clear-groups -- "
	b.says(inside + "sh -c 'cd / && touch /var/lib/flitch/mine && rm /var/lib/flitch/mine'")
	fails(b.t, b.within(inside+"touch /usr/mine"), "Read-only")
	fails(b.t, b.within(inside+"touch /var/lib/mine"), "Read-only")
	b.says("touch /tmp/mine")
	fails(b.t, b.within(inside+"ls /tmp/mine"), "No such file") // its /tmp is another
}

// TestTheUnitUnderSystemd is the life of the package where systemd is the first process: it is
// enabled, says itself when it is up, feeds the watchdog, is hardened, comes back when it hangs
// and when it is killed, stays up in an upgrade, ends when told, and is stopped by its removal.
func TestTheUnitUnderSystemd(t *testing.T) {
	b := boot(t)
	out := t.TempDir()
	b.lays(pack(t, own, older, out, nil))
	elsewhere(t, filepath.Join(b.root, configured))
	// A hang is found after six seconds here, not after three minutes; the rest is as shipped.
	b.says("mkdir -p /etc/systemd/system/flitch.service.d && printf '[Service]\nWatchdogSec=6\nRestartSec=100ms\n' >/etc/systemd/system/flitch.service.d/quick.conf && systemctl daemon-reload")
	b.says("systemctl enable --now flitch 2>&1") // of Type=notify: it is back when flitch has said that it is ready
	if got := b.state("ActiveState") + " " + b.state("SubState"); got != "active running" {
		t.Fatalf("it is %s", got)
	}
	broker := regexp.MustCompile(`(?s)\n\[broker\].*?\nlisten = "([^"]+)"`).FindStringSubmatch(read(t, b.root, configured))
	(&daemon{t: t, broker: broker[1]}).publish()
	b.hardened(b.state("MainPID"))

	fed := b.state("WatchdogTimestampMonotonic")
	b.until("the watchdog is fed again", func() bool { return b.state("WatchdogTimestampMonotonic") != fed })
	pid := b.state("MainPID")
	b.says("kill -STOP " + pid)
	b.restarted(pid, "a hang")
	if got := b.says("journalctl --no-pager --unit flitch"); !strings.Contains(got, "Watchdog timeout") {
		t.Errorf("another than the watchdog ended what hung:\n%s", got)
	}
	pid = b.state("MainPID")
	b.says("kill -KILL " + pid)
	b.restarted(pid, "a kill")
	pid = b.state("MainPID")
	b.lays(pack(t, own, version, out, nil))
	b.restarted(pid, "an upgrade")
	if got := b.says("flitch version"); !strings.HasPrefix(got, "flitch "+version+" ") {
		t.Errorf("after the upgrade it is %s", got)
	}

	b.says("systemctl stop flitch")
	if got := b.state("Result") + " " + b.state("ExecMainStatus"); got != "success 0" {
		t.Errorf("told to end it ended with %s", got)
	}
	b.says("systemctl start flitch")
	pid = b.state("MainPID")
	b.says("dpkg --force-unsafe-io -r flitch </dev/null 2>&1")
	if left := b.says("systemctl is-active flitch || true; ls -d /proc/" + pid + " 2>/dev/null || true"); left != "inactive" {
		t.Errorf("removed, it is %s", left)
	}
}
