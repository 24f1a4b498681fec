package sweep

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// patience is how long a browser may take for one thing; a loaded machine needs it.
const patience = 60 * time.Second

// A tab is one person's browser: cookies of its own, every request and complaint noted.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu     sync.Mutex
	urls   []string
	bad    []string
	status int64 // of the newest page
}

func openTab(t *testing.T, width int64) *tab {
	t.Helper()
	b := &tab{t: t}
	ctx, end := chromedp.NewContext(chrome, chromedp.WithNewBrowserContext(), chromedp.WithListener(b.note))
	t.Cleanup(end)
	b.ctx = ctx
	if err := chromedp.Do(ctx); err != nil { // what begins the tab must not end with a deadline
		t.Fatal(err)
	}
	b.do(chromedp.EmulateViewport(width, 800))
	return b
}

func (b *tab) note(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		b.urls = append(b.urls, e.Request.URL)
	case *network.EventResponseReceived:
		if e.Type == network.ResourceTypeDocument {
			b.status = e.Response.Status
		} else if e.Response.Status >= 400 {
			b.bad = append(b.bad, fmt.Sprintf("%d of %s", e.Response.Status, e.Response.URL))
		}
	case *runtime.EventExceptionThrown:
		b.bad = append(b.bad, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError {
			b.bad = append(b.bad, "console error")
		}
	case *cdplog.EventEntryAdded:
		// That a form was refused with 422 the browser tells too; what failed beside the
		// page itself is counted above.
		if e.Entry.Level == "error" && e.Entry.Source != "network" {
			b.bad = append(b.bad, string(e.Entry.Source)+": "+e.Entry.Text)
		}
	}
}

func (b *tab) try(steps ...chromedp.Action[chromedp.Void]) error {
	ctx, stop := context.WithTimeout(b.ctx, patience)
	defer stop()
	return chromedp.Do(ctx, steps...)
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := b.try(steps...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) open(url string) {
	b.t.Helper()
	if err := b.try(chromedp.Navigate(url)); err != nil {
		b.t.Fatalf("open %s: %v", url, err)
	}
}

// ask evaluates a script of the test's, which works with the page's own scripts off too.
func ask[T any](b *tab, script string, args ...any) T {
	b.t.Helper()
	v, err := tryAsk[T](b, script, args...)
	if err != nil {
		b.t.Fatalf("%.120s: %v", script, err)
	}
	return v
}

func tryAsk[T any](b *tab, script string, args ...any) (T, error) {
	ctx, stop := context.WithTimeout(b.ctx, patience)
	defer stop()
	if len(args) > 0 {
		script = fmt.Sprintf(script, args...)
	}
	return chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
}

// until waits for a script to say true.
func (b *tab) until(what, script string) {
	b.t.Helper()
	for deadline := time.Now().Add(patience); ; {
		ok, err := tryAsk[bool](b, script)
		if ok && err == nil {
			return
		}
		if time.Now().After(deadline) {
			text, _ := tryAsk[string](b, `document.body.innerText.slice(0, 600)`)
			b.t.Fatalf("%s never came, %v; the page says %q", what, err, text)
		}
		select {
		case <-b.ctx.Done():
			b.t.Fatal(b.ctx.Err())
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (b *tab) withoutScript() {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) colours(scheme string) {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) lastStatus() int64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.status
}

// quiet: no request went anywhere but to the daemon, and nothing went wrong in the page but
// what is expected.
func (b *tab) quiet(address string, expected ...string) {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.urls) < 3 {
		b.t.Errorf("only %d requests seen: the test sees nothing", len(b.urls))
	}
	for _, url := range b.urls {
		if !strings.HasPrefix(url, address+"/") && !strings.HasPrefix(url, "data:") {
			b.t.Errorf("the page asked for %s", url)
		}
	}
	for _, bad := range b.bad {
		if !slices.Contains(expected, bad) {
			b.t.Errorf("the page complained: %s", bad)
		}
	}
}
