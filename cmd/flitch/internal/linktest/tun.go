package linktest

import (
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"sync/atomic"

	"golang.org/x/sys/unix"
)

// links counts those of this process: each has addresses of its own.
var links atomic.Int32

// open makes the far network and the two devices, gives them addresses, and turns them on. The
// addresses are of the block for tests of networks (RFC 2544, 198.18.0.0/15).
func (l *Link) open() (err error) {
	number := (os.Getpid()*8 + int(links.Add(1))) % 32768
	l.Near = fmt.Sprintf("198.%d.%d.%d", 18+number>>14&1, number>>6&255, number&63<<2+1)
	l.Far = fmt.Sprintf("198.%d.%d.%d", 18+number>>14&1, number>>6&255, number&63<<2+2)
	name := fmt.Sprintf("link%d", number)
	if l.space, err = newSpace(); err != nil {
		return err
	}
	if l.ends[0], err = end(name, l.Near); err != nil {
		return err
	}
	return l.Inside(func() error {
		l.ends[1], err = end(name, l.Far)
		return err
	})
}

func (l *Link) close() {
	for _, f := range []*os.File{l.ends[0], l.ends[1], l.space} {
		if f != nil {
			f.Close()
		}
	}
}

// Inside runs do on a thread in the far network. What it opens there stays there: a connection or
// a listener can be used from anywhere, a program that it starts lives there.
func (l *Link) Inside(do func() error) error {
	return apart(func() error {
		if err := unix.Setns(int(l.space.Fd()), unix.CLONE_NEWNET); err != nil {
			return fmt.Errorf("enter the far network: %w", err)
		}
		return do()
	})
}

// Dial connects from the far end.
func (l *Link) Dial(network, address string, dialer net.Dialer) (conn net.Conn, err error) {
	err = l.Inside(func() error {
		conn, err = dialer.Dial(network, address)
		return err
	})
	return conn, err
}

// apart runs do on a thread that ends with it, so that nothing else ever runs in another network.
func apart(do func() error) error {
	done := make(chan error)
	go func() {
		runtime.LockOSThread() // and never given back
		done <- do()
	}()
	return <-done
}

// newSpace makes a network that lives as long as its file is open, or something in it.
func newSpace() (space *os.File, err error) {
	err = apart(func() error {
		if err := unix.Unshare(unix.CLONE_NEWNET); err != nil {
			return fmt.Errorf("a network namespace: %w", err)
		}
		space, err = os.Open("/proc/thread-self/ns/net")
		return err
	})
	return space, err
}

// end makes a TUN device in the network of the calling thread: what the system sends by it is
// read from the file, one packet at a time, and what is written there comes in by it.
func end(name, address string) (*os.File, error) {
	fd, err := unix.Open("/dev/net/tun", unix.O_RDWR|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("open /dev/net/tun: %w", err)
	}
	request, err := unix.NewIfreq(name)
	if err == nil {
		request.SetUint16(unix.IFF_TUN | unix.IFF_NO_PI)
		err = unix.IoctlIfreq(fd, unix.TUNSETIFF, request)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("a TUN device: %w", err), unix.Close(fd))
	}
	file := os.NewFile(uintptr(fd), name)
	for _, line := range []string{
		"addr add " + address + "/30 dev " + name,
		"link set " + name + " up",
	} {
		if out, err := exec.Command("ip", strings.Fields(line)...).CombinedOutput(); err != nil {
			file.Close()
			return nil, fmt.Errorf("ip %s: %w: %s", line, err, out)
		}
	}
	return file, nil
}
