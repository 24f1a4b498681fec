package ship

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"
)

// patience bounds what a test waits for on a busy machine, under emulation.
const patience = 3 * time.Minute

// A daemon is a flitch that runs.
type daemon struct {
	t      *testing.T
	cmd    *exec.Cmd
	broker string // host:port
	ended  chan error
	said   *bytes.Buffer // complete when ended was read
}

// start runs a flitch run until it says where its broker is.
func start(t *testing.T, cmd *exec.Cmd) *daemon {
	t.Helper()
	d := &daemon{t: t, cmd: cmd, ended: make(chan error, 1), said: &bytes.Buffer{}}
	out, in := io.Pipe()
	cmd.Stdout, cmd.Stderr = in, d.said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	go func() {
		err := cmd.Wait()
		in.Close()
		d.ended <- err
	}()
	found := make(chan string, 1)
	go func() {
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			if at, ok := strings.CutPrefix(lines.Text(), "broker "); ok {
				found <- at
			}
		}
	}()
	select {
	case d.broker = <-found:
	case err := <-d.ended:
		t.Fatalf("%v ended: %v\n%s", cmd.Args, err, d.said)
	case <-time.After(patience):
		t.Fatalf("%v does not say where its broker is", cmd.Args)
	}
	return d
}

// publish sends a reading and is back when it was acknowledged, so when it is on disk.
func (d *daemon) publish() {
	d.t.Helper()
	host, port, err := net.SplitHostPort(d.broker)
	if err != nil {
		d.t.Fatal(err)
	}
	payload := fmt.Sprintf(reading, time.Now().UTC().Format(time.RFC3339))
	output(d.t, exec.Command("mosquitto_pub", "-h", host, "-p", port, "-q", "1", "-t", onTopic, "-m", payload))
}

// stop ends it as systemd and container engines do, and wants it to end well.
func (d *daemon) stop() {
	d.t.Helper()
	if err := d.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		d.t.Fatal(err)
	}
	select {
	case err := <-d.ended:
		if err != nil {
			d.t.Errorf("%v ended with %v\n%s", d.cmd.Args, err, d.said)
		}
	case <-time.After(patience):
		d.t.Fatalf("%v does not end", d.cmd.Args)
	}
}
