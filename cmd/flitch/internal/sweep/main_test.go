package sweep

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"

	"github.com/chromedp/chromedp"
)

// The binary under test and one Chromium for all tests, each in a context of its own.
var (
	binary string
	chrome context.Context
)

func TestMain(m *testing.M) {
	os.Exit(flitchtest.Around(func(path string) int { binary = path; return browsing(m) }))
}

func browsing(m *testing.M) int {
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
	*flitchtest.Life
	t       *testing.T
	address string // of the page, without a slash at the end
}

// start runs the binary and waits until it has a page and a line begins with ready.
func start(t *testing.T, folder, ready string, args ...string) *daemon {
	t.Helper()
	command := exec.Command(binary, args...)
	command.Dir = folder
	d := &daemon{t: t, Life: flitchtest.Start(t, command)}
	t.Cleanup(d.stop)
	if !d.Until(60*time.Second, func() bool { _, ok := d.Line(ready); return ok && d.hasPage() }) {
		t.Fatalf("flitch %s does not say %q and where its page is: %s", strings.Join(args, " "), ready, d.Said())
	}
	return d
}

// hasPage notes where the page is, as the demo or the daemon says it.
func (d *daemon) hasPage() bool {
	for _, begin := range []string{"Page: ", "page "} {
		line, _ := d.Line(begin)
		if _, at, ok := strings.Cut(line, "http://"); ok {
			d.address = "http://" + strings.Fields(at)[0]
			return true
		}
	}
	return false
}

// comesAgain waits until it has started anew with a changed configuration.
func (d *daemon) comesAgain() {
	d.t.Helper()
	anew := func() bool {
		_, then, _ := strings.Cut(d.Said(), "starting anew")
		return strings.Contains(then, "page http")
	}
	if !d.Until(patience, anew) {
		d.t.Fatalf("it does not start anew: %s", d.Said())
	}
}

// stop ends it as Ctrl-C does.
func (d *daemon) stop() { d.End(syscall.SIGINT, time.Minute) }

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
