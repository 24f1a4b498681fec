package app

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A check of a probe on a phone: a slip is told beside its field and what was typed
// stays; the one that is right corrects what the probe reads, and stands in its log.
func TestThePageOfAProbe(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(time.Minute, 0, 3*time.Minute, func(time.Duration) { s.read("slow", 3.4) })
	b := openBrowser(t)
	b.do(chromedp.Navigate(s.app.Address() + "/batches"))
	b.goes(`a[href="/probes"]`)
	b.sees("h1", "Probes and their checks") // the link that leads there says the same
	b.narrow(t, "FLITCH_PICTURE_PROBES")
	b.goes(`a[href="/probes/slow"]`)
	b.sees("body", "Counted as sent.")
	field := func(name, text string) chromedp.Action[chromedp.Void] {
		return chromedp.SendKeys(chromedp.CSS(`input[name="`+name+`"]`), text)
	}
	save := chromedp.Click(chromedp.CSS(`form[action="/probes/slow"] button`))
	b.do(field("by", "M.O."), field("ice", "1,4"), field("boiling", "99.9"), chromedp.Click(chromedp.CSS(`input[name="correct"]`)), save)
	b.sees("#pressure + .wrong", "Where water boils depends on the air")
	b.narrow(t, "FLITCH_PICTURE_PROBE_WRONG")
	if kept := b.number(`document.querySelector("#ice").value === "1,4" && document.querySelector("[name=correct]").checked && document.querySelector("#by").value === "M.O." ? 1 : 0`); kept != 1 {
		t.Error("what was typed is gone")
	}
	b.do(field("pressure", "1013.25"), save)
	b.sees(".result", "Entered.")
	b.sees("body", "corrected from then on, 1.01") // 99.9743 K between 1.4 and 99.9 °C
	b.sees("body", "In doubt, measured since the last good check: PS-02")
	b.narrow(t, "FLITCH_PICTURE_PROBE")
	b.quiet(s.app.Address())
	s.at(4 * time.Minute)
	s.read("slow", 3.4)
	s.settle()
	if last := s.batch().Tracks[0].Last.Value; last > 2.1 || last < 2 {
		t.Errorf("sent 3.4 and counted as %g", last)
	}
}
