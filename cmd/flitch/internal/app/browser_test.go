package app

import (
	"context"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/backgroundservice"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"flitch/process"
)

// phoneWidth is the narrowest phone the page is made for, in CSS pixels.
const phoneWidth = 360

// A browser is headless Chromium at phone width, which notes every request and
// every complaint of the page.
type browser struct {
	t     *testing.T
	ctx   context.Context
	mu    sync.Mutex
	urls  []string
	bytes int64 // that came over the wire
	bad   []string

	within  context.Context // the service worker, once it was asked
	workers []*serviceworker.Registration
	shows   chan string // what the browser tells of notifications, in its words
}

func openBrowser(t *testing.T, more ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true))
	options = append(options, more...)
	alloc, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	b := &browser{t: t, shows: make(chan string, 99)}
	ctx, end := chromedp.NewContext(alloc, chromedp.WithListener(b.note))
	t.Cleanup(end)
	b.ctx = ctx
	b.do(chromedp.EmulateViewport(phoneWidth, 740))
	return b
}

func (b *browser) note(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		b.urls = append(b.urls, e.Request.URL)
	case *network.EventLoadingFinished:
		b.bytes += int64(e.EncodedDataLength)
	case *serviceworker.EventWorkerRegistrationUpdated:
		b.workers = append(b.workers, e.Registrations...)
	case *backgroundservice.EventBackgroundServiceEventReceived:
		b.shows <- e.BackgroundServiceEvent.EventName
	case *runtime.EventExceptionThrown:
		b.bad = append(b.bad, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError {
			b.bad = append(b.bad, "console error")
		}
	}
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

// text asks the page itself, so that a glance that is replaced meanwhile does no
// harm. Between two pages there is nobody to ask, so it asks again.
func (b *browser) text(css string) string {
	b.t.Helper()
	script := fmt.Sprintf(`(document.querySelector(%q) || {innerText: ""}).innerText`, css)
	for deadline := time.Now().Add(time.Minute); ; {
		text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](script))
		if err == nil {
			return text
		}
		if !strings.Contains(err.Error(), "navigated") || time.Now().After(deadline) {
			b.t.Fatalf("%s: %v", css, err)
		}
		<-time.After(50 * time.Millisecond) // a real browser
	}
}

func (b *browser) number(script string) float64 {
	b.t.Helper()
	n, err := chromedp.Run(b.ctx, chromedp.Evaluate[float64](script))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return n
}

// lossIsTold waits until the page says that it is not live, and returns how long that took by
// the page's own clock, without what its timers were late: a busy machine is not the page's.
func (b *browser) lossIsTold() time.Duration {
	b.t.Helper()
	b.number(`(() => { const began = performance.now(); let last = began, late = 0;
		const look = setInterval(() => { const now = performance.now(); late += Math.max(0, now - last - 50); last = now;
			if (document.body.innerText.includes("NOT LIVE")) { clearInterval(look); window.lossTook = now - began - late; } }, 50); return 1; })()`)
	b.sees("body", "NOT LIVE")
	for {
		if ms := b.number(`window.lossTook === undefined ? -1e6 : window.lossTook`); ms > -1e6 {
			return time.Duration(ms) * time.Millisecond
		}
	}
}

// goes follows a link. The page itself does it: chromedp may still hold nodes of the page
// before, when this one has just come.
func (b *browser) goes(css string) {
	b.t.Helper()
	if b.number(fmt.Sprintf(`(a => { if (a) { a.click(); } return a ? 1 : 0; })(document.querySelector(%q))`, css)) != 1 {
		b.t.Fatalf("there is no %s", css)
	}
}

// sees waits until the text is on the page.
func (b *browser) sees(css, want string) {
	b.t.Helper()
	deadline := time.Now().Add(time.Minute)
	for got := b.text(css); !strings.Contains(got, want); got = b.text(css) {
		if time.Now().After(deadline) {
			b.t.Fatalf("%s shows %q, want %q", css, got, want)
		}
		select {
		case <-b.ctx.Done():
			b.t.Fatal(b.ctx.Err())
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// The page in a real browser at phone width: it shows the core, follows without
// reloading, takes a tap, and says when it is not live.
func TestThePageBesideTheSmoker(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("chamber", 80); s.read("core", 41.5) })
	b := openBrowser(t)
	b.do(chromedp.Navigate(s.app.Address()))
	b.sees(".state .word", "fine")
	b.sees(".core", "41.5")
	if wide := b.number(`document.documentElement.scrollWidth`); wide > phoneWidth {
		t.Errorf("the page is %g px wide on a phone of %d", wide, phoneWidth)
	}
	b.follows(s)
	b.answers(s)
	b.keep(t)
	b.quiet(s.app.Address())
	s.close()
	if took := b.lossIsTold(); took > 5*time.Second {
		t.Errorf("the page took %s to say that it is not live", took)
	}
}

// follows: a new core temperature shows without a reload.
func (b *browser) follows(s *shop) {
	b.t.Helper()
	s.at(11 * minute)
	s.read("core", 43.4)
	s.settle()
	b.sees(".core", "43.4")
}

// answers: the core is held, the phone rings, one tap says "I am on it".
func (b *browser) answers(s *shop) {
	b.t.Helper()
	// 0.9 K/min: what a piece of this size can do in such air. Faster is a probe that is out.
	s.every(minute, 12*minute, 43*minute, func(after time.Duration) {
		s.read("chamber", 80)
		s.read("core", min(67.5, 43.4+0.9*(after-11*minute).Minutes()))
	})
	b.sees(".state .word", "now")
	b.do(chromedp.SendKeys(chromedp.CSS(`input[name="by"]`), "M.O."), chromedp.Click(chromedp.CSS(`.state button`)))
	b.sees(".state .word", "fine")
	if number, standing, err := s.app.Alarm("H8"); err != nil || standing {
		b.t.Errorf("alarm %d still unanswered, %v", number, err)
	}
}

// keep leaves a picture where a person can look at it, if one is asked for.
func (b *browser) keep(t *testing.T) {
	t.Helper()
	path := os.Getenv("FLITCH_PICTURE")
	if path == "" {
		return
	}
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(path, picture, 0o644)
	}
	if err != nil {
		t.Error(err)
	}
}

// quiet: no request left this machine and nothing went wrong inside the page.
func (b *browser) quiet(address string) {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.urls) < 3 {
		b.t.Errorf("only %d requests seen: the test sees nothing", len(b.urls))
	}
	for _, url := range b.urls {
		if !strings.HasPrefix(url, address) && !strings.HasPrefix(url, "data:") {
			b.t.Errorf("the page asked for %s", url)
		}
	}
	if len(b.bad) > 0 {
		b.t.Errorf("the page complained: %q", b.bad)
	}
}
