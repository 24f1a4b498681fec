package app

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"flitch/process"
)

// The charts in a real browser at phone width: no letter is made smaller than it was
// drawn, a finger on the chart reads exact values, arrow keys move on, a gap says so, and
// nothing is asked for elsewhere.
func TestTheChartsUnderAFinger(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	s.every(minute, 0, 180*minute, func(after time.Duration) {
		if after < 60*minute || after > 120*minute {
			s.read("chamber", 80.4)
			s.read("core", 10+after.Hours()*10)
		}
	})
	b := openBrowser(t)
	b.do(chromedp.Navigate(s.app.Address() + "/batches/PS-02/chart?hours=3"))
	b.sees(".parts [aria-current]", "last 3 hours")
	b.sees(".needs-script", "Touch the chart")
	b.drawn()
	if share := b.number(`(function () { var i = document.querySelector(".hair img"); return i.clientWidth / i.naturalWidth; })()`); share < 0.995 {
		t.Errorf("the chart is shown at %.3f of its size: letters of 12 px are smaller on the phone", share)
	}
	b.touch(0.62)
	b.sees(".told", "chamber 80.4 °C")
	before := b.text(".told")
	b.sees(".told", "core A ")
	b.sees(".told", "UTC")
	b.do(chromedp.SendKeys(chromedp.CSS(".hair"), kb.ArrowLeft))
	if after := b.text(".told"); after == before {
		t.Errorf("an arrow key changed nothing: %q", after)
	}
	b.touch(0.40)
	b.sees(".told", "chamber no data")
	b.narrow(t, "FLITCH_PICTURE_CHARTS")
	b.quiet(s.app.Address())
}

// drawn waits until every picture of the page is there: a finger finds nothing before.
func (b *browser) drawn() {
	b.t.Helper()
	script := `Promise.all(Array.from(document.images, function (i) { return i.decode(); })).then(function () { return "all"; })`
	if got := b.eval(script); got != "all" {
		b.t.Fatalf("the pictures: %s", got)
	}
}

// touch puts a finger on the chart at a part of its width.
func (b *browser) touch(share float64) {
	b.t.Helper()
	side := func(name string) float64 {
		return b.number(fmt.Sprintf(`document.querySelector(".hair img").getBoundingClientRect().%s`, name))
	}
	at := &input.TouchPoint{X: side("left") + share*side("width"), Y: side("top") + side("height")/2}
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchStart, TouchPoints: []*input.TouchPoint{at}})
		if err == nil {
			_, err = cdp.Call(ctx, t, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchEnd, TouchPoints: []*input.TouchPoint{}})
		}
		return err
	}))
}
