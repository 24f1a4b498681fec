package app

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"os/signal"
	"syscall"
	"testing"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/killpoint"
)

// victimEnv tells the test binary that it is the daemon to be killed.
const victimEnv = "FLITCH_TEST_VICTIM"

// A test that starts programs must not be beside others: between fork and exec a child has the
// lock of a database that another test closes and opens again.
func TestMain(m *testing.M) {
	killpoint.Install()
	if spec := os.Getenv(taleEnv); spec != "" {
		if err := beTold(spec); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if spec := os.Getenv(victimEnv); spec != "" {
		if err := beVictim(spec); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	// A program with the race detector in it waits a second before it ends, and these tests start hundreds.
	os.Setenv("GORACE", os.Getenv("GORACE")+" atexit_sleep_ms=0")
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
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError})) // the parent wants none
	a, err := New(spec.config(), Options{Log: log, Version: "victim"})
	if err != nil {
		return err
	}
	fmt.Println("ready")
	return a.Run(ctx)
}

// A victim is one life of the daemon.
type victim struct {
	t    *testing.T
	cmd  *exec.Cmd
	out  *bufio.Reader
	open bool         // ready was seen
	said bytes.Buffer // errors and races; read it after the end only
}

// start begins a life; ready waits until it has opened its doors.
func (v victimSpec) start(t *testing.T) *victim {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	life := &victim{t: t, cmd: exec.Command(os.Args[0], "-test.run=^$")}
	// A race ends the life, so that it cannot pass for one more kill.
	life.cmd.Env = append(os.Environ(), victimEnv+"="+string(text), "GORACE="+os.Getenv("GORACE")+" halt_on_error=1")
	life.cmd.Stderr = &life.said
	out, err := life.cmd.StdoutPipe()
	if err == nil {
		err = life.cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	life.out = bufio.NewReader(out)
	t.Cleanup(func() { life.cmd.Process.Kill(); life.cmd.Wait() }) // when the test gives up
	return life
}

func (v *victim) ready() {
	v.t.Helper()
	if v.open {
		return
	}
	if line, err := v.out.ReadString('\n'); err != nil || line != "ready\n" {
		v.cmd.Process.Kill()
		v.cmd.Wait() // then all it said is here
		v.t.Fatalf("the daemon did not start: %q, %v\n%s", line, err, v.said.String())
	}
	v.open = true
}

// kill is SIGKILL: the daemon finishes nothing. A life that ended in another way
// is no kill, and a fault.
func (v *victim) kill() {
	v.t.Helper()
	v.cmd.Process.Kill()
	v.cmd.Wait()
	status, ok := v.cmd.ProcessState.Sys().(syscall.WaitStatus)
	if !ok || !status.Signaled() || status.Signal() != syscall.SIGKILL {
		v.t.Fatalf("the daemon ended by itself (%v) before it was killed:\n%s", v.cmd.ProcessState, v.said.String())
	}
	v.silent()
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
	v.silent()
}

func (v *victim) silent() {
	v.t.Helper()
	if v.said.Len() > 0 {
		v.t.Errorf("the daemon complained:\n%s", v.said.String())
	}
}
