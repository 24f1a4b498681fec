package app

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
)

// victimEnv tells the test binary that it is the daemon to be killed.
const victimEnv = "FLITCH_TEST_VICTIM"

func TestMain(m *testing.M) {
	if spec := os.Getenv(victimEnv); spec != "" {
		if err := beVictim(spec); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// A victimSpec is where a daemon that is killed again and again comes back.
type victimSpec struct {
	Database, Page, Broker, Outside, Phone string
}

func (v victimSpec) config() *config.Config {
	c := testConfig(v.Database, v.Phone)
	c.Page.Listen, c.Broker.Listen = v.Page, v.Broker
	if v.Outside != "" {
		c.Broker = config.Broker{Mode: config.External, URL: v.Outside, ClientID: "flitch-victim"}
	}
	for i := range c.Probes {
		c.Probes[i].TimeFormat = "unix-ms"
	}
	return c
}

// beVictim is the daemon: the real one, on the machine's clock.
func beVictim(text string) error {
	var spec victimSpec
	if err := json.Unmarshal([]byte(text), &spec); err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	a, err := New(spec.config(), Options{Log: slog.New(slog.DiscardHandler), Version: "victim"})
	if err != nil {
		return err
	}
	fmt.Println("ready")
	return a.Run(ctx)
}

// A victim is one life of the daemon.
type victim struct {
	t   *testing.T
	cmd *exec.Cmd
}

func (v victimSpec) start(t *testing.T) *victim {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(os.Args[0], "-test.run=^$")
	cmd.Env = append(os.Environ(), victimEnv+"="+string(text))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || line != "ready\n" {
		cmd.Process.Kill()
		t.Fatalf("the daemon did not start: %q, %v", line, err)
	}
	return &victim{t: t, cmd: cmd}
}

// kill is SIGKILL after a while: the daemon finishes nothing.
func (v *victim) kill(after time.Duration) {
	v.t.Helper()
	<-time.After(after) // the random moment
	if err := v.cmd.Process.Kill(); err != nil {
		v.t.Fatal(err)
	}
	if err := v.cmd.Wait(); err == nil {
		v.t.Fatal("the daemon ended before it was killed")
	}
}

// end is SIGTERM: the daemon finishes what it has taken.
func (v *victim) end() {
	v.t.Helper()
	if err := v.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		v.t.Fatal(err)
	}
	if err := v.cmd.Wait(); err != nil {
		v.t.Errorf("after SIGTERM: %v", err)
	}
}

// freeAddress is a port that comes back at the same place after each kill.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
