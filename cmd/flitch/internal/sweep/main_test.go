package sweep

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// The binary under test and one Chromium for all tests, each in a context of its own.
var (
	binary string
	chrome context.Context
)

func TestMain(m *testing.M) { os.Exit(around(m)) }

func around(m *testing.M) int {
	folder, err := os.MkdirTemp("", "flitch-sweep-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	binary = filepath.Join(folder, "flitch")
	if out, err := exec.Command("go", "build", "-o", binary, "flitch/cmd/flitch").CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build: %v\n%s", err, out)
		return 1
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), options...)
	defer stop()
	ctx, end := chromedp.NewContext(alloc)
	defer end()
	if err := chromedp.Do(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "chromium:", err)
		return 1
	}
	chrome = ctx
	return m.Run()
}

// A daemon is flitch as a process of its own.
type daemon struct {
	t       *testing.T
	command *exec.Cmd
	address string // of the page, without a slash at the end

	mu   sync.Mutex
	said strings.Builder // what it wrote, both ways
	done chan struct{}
}

// start runs the binary and waits until a line begins with ready.
func start(t *testing.T, folder, ready string, args ...string) *daemon {
	t.Helper()
	d := &daemon{t: t, command: exec.Command(binary, args...), done: make(chan struct{})}
	d.command.Dir = folder
	out, err := d.command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	d.command.Stderr = d
	if err := d.command.Start(); err != nil {
		t.Fatal(err)
	}
	lines := make(chan string, 999)
	go func() {
		defer close(d.done)
		for in := bufio.NewScanner(out); in.Scan(); {
			fmt.Fprintln(d, in.Text())
			select {
			case lines <- in.Text():
			default: // nobody waits any more
			}
		}
	}()
	t.Cleanup(d.stop)
	deadline := time.After(60 * time.Second)
	for {
		select {
		case line := <-lines:
			if _, at, ok := strings.Cut(line, "http://"); ok && d.address == "" && (strings.HasPrefix(line, "Page: ") || strings.HasPrefix(line, "page ")) {
				d.address = "http://" + strings.Fields(at)[0]
			}
			if strings.HasPrefix(line, ready) && d.address != "" {
				return d
			}
		case <-d.done:
			t.Fatalf("flitch %s ended: %s", strings.Join(args, " "), d.text())
		case <-deadline:
			t.Fatalf("flitch %s does not say %q: %s", strings.Join(args, " "), ready, d.text())
		}
	}
}

// Write keeps what the daemon says.
func (d *daemon) Write(p []byte) (int, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.said.Write(p)
}

func (d *daemon) text() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.said.String()
}

// comesAgain waits until it has started anew with a changed configuration.
func (d *daemon) comesAgain() {
	d.t.Helper()
	for deadline := time.Now().Add(patience); ; {
		if _, then, ok := strings.Cut(d.text(), "starting anew"); ok && strings.Contains(then, "page http") {
			return
		}
		if time.Now().After(deadline) {
			d.t.Fatalf("it does not start anew: %s", d.text())
		}
		<-time.After(20 * time.Millisecond)
	}
}

// stop ends it as Ctrl-C does.
func (d *daemon) stop() {
	if d.command.ProcessState != nil {
		return
	}
	if err := d.command.Process.Signal(syscall.SIGINT); err != nil {
		d.t.Error(err)
	}
	<-d.done
	if err := d.command.Wait(); err != nil {
		d.t.Errorf("flitch ended with %v: %s", err, d.text())
	}
}

// demo starts the demo, plays it up to a stage or an alarm, and lets it all but stand there:
// a step is some minutes.
func demo(t *testing.T, from string) *daemon {
	t.Helper()
	return start(t, t.TempDir(), "Here is "+from, "demo", "--from", from, "--lasts", "1000h", "--listen", "127.0.0.1:0")
}

// get asks as a program does, with a token if there is one.
func (d *daemon) get(path, token string) (*http.Response, error) {
	r, err := http.NewRequest(http.MethodGet, d.address+path, nil)
	if err != nil {
		return nil, err
	}
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	return http.DefaultClient.Do(r)
}
