package mqtttest

import (
	"fmt"
	"io"
	"net"
	"os/exec"
	"testing"
)

// A Device is a mosquitto_pub that stays connected, with a last will, and publishes
// each line it is told on one topic, retained, with quality of service 1.
type Device struct {
	t   testing.TB
	cmd *exec.Cmd
	in  io.WriteCloser
}

// StartDevice runs one until it dies or the test ends.
func StartDevice(t testing.TB, addr, topic, willTopic, will string) *Device {
	t.Helper()
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		t.Fatal(err)
	}
	d := &Device{t: t, cmd: exec.Command(tool(t, "mosquitto_pub"), "-h", host, "-p", port, "-t", topic, "-q", "1", "-r", "-l",
		"--will-topic", willTopic, "--will-payload", will, "--will-retain", "--will-qos", "1")}
	if d.in, err = d.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	if err := d.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(d.Die)
	return d
}

// Say publishes a line.
func (d *Device) Say(line string) {
	d.t.Helper()
	if _, err := fmt.Fprintln(d.in, line); err != nil {
		d.t.Fatal(err)
	}
}

// Die cuts the connection as a power cut does: the broker says the will.
func (d *Device) Die() {
	_ = d.cmd.Process.Kill()
	_ = d.cmd.Wait()
}
