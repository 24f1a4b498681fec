package app

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"flitch/process"
)

// picture keeps what the phone shows where a person can look at it, if one is asked for:
// the first screen, and the whole page.
func (b *browser) picture(name string) {
	b.t.Helper()
	folder := os.Getenv("FLITCH_PICTURES_GLANCE")
	if folder == "" {
		return
	}
	for suffix, shot := range map[string]func() ([]byte, error){
		"":       func() ([]byte, error) { return chromedp.Run(b.ctx, chromedp.CaptureScreenshot()) },
		"-whole": func() ([]byte, error) { return chromedp.Run(b.ctx, chromedp.FullScreenshot(100)) },
	} {
		png, err := shot()
		if err == nil {
			err = os.WriteFile(filepath.Join(folder, name+suffix+".png"), png, 0o644)
		}
		if err != nil {
			b.t.Error(err)
		}
	}
}

// fits: nothing of the page is wider than the phone, and the four buttons are on the screen.
func (b *browser) fits() {
	b.t.Helper()
	if wide := b.number(`document.documentElement.scrollWidth`); wide > phoneWidth {
		b.t.Errorf("the page is %g px wide on a phone of %d", wide, phoneWidth)
	}
	inReach := `(function () { var bar = document.getElementById("reach"); if (!bar) { return -1; }
		return Array.from(bar.children).filter(function (e) { var r = e.getBoundingClientRect(); return r.height >= 56 && r.width >= 56 && r.top >= 0 && r.bottom <= innerHeight; }).length; })()`
	if n := b.number(inReach); n != -1 && n != 4 {
		b.t.Errorf("%g of four buttons are in reach", n)
	}
}

// The glance through a night at phone width: fine in the cook, look when a turn is late or a
// fridge silent, now, blind; each with four buttons where the thumb is.
func TestTheGlanceThroughANight(t *testing.T) {
	s := newShop(t)
	s.cfg.Probes = s.cfg.Probes[:3] // the spare one is never heard
	s.open()
	s.begin(cooked)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("slow", 3) })
	s.clock.Step(dawn.Add(10*minute + time.Second)) // for another reading
	b := openBrowser(t)
	show := func(path string) { b.do(chromedp.Navigate(s.app.Address() + path)) }
	show("/batches/PS-02")
	b.sees(".state .word", "fine")
	b.fits()
	b.picture("cure-fine")
	b.thumb(s)
	s.every(minute, 11*minute, 17*minute, func(time.Duration) {})
	b.sees(".state .word", "look")
	b.sees(".state", "no reading of the fridge alder since")
	b.picture("cure-look")
	s.every(minute, 18*minute, 45*minute, func(time.Duration) {})
	b.sees(".state .word", "blind")
	b.picture("cure-blind")
	show("/batches/PS-02/bedside")
	b.sees(".word", "blind")
	b.fits()
	b.picture("bedside-blind")
	if bright := b.number(brightest); bright > 190 {
		t.Errorf("something at the bedside is as bright as %g of 255", bright)
	}
	s.every(minute, 46*minute, 62*minute, func(time.Duration) { s.read("slow", 3) })
	b.sees(".word", "fine")
	for _, stage := range []process.StageName{process.StageRinse, process.StageDry, process.StageSmoke, process.StageCook} {
		s.must(process.Command{Kind: process.CommandStage, Stage: stage, Text: "weighed by T.V., not logged"})
	}
	s.every(minute, 63*minute, 122*minute, func(after time.Duration) {
		s.read("chamber", 80)
		s.read("core", 80-70*math.Exp(-max(0, (after-63*minute).Minutes()-10)/90))
	})
	b.sees("body", "last core, slab A")
	b.picture("bedside-fine")
	show("/")
	b.sees(".core", "39.4")
	b.fits()
	b.sees("#live", "come-up")
	b.picture("cook-fine")
	s.every(minute, 123*minute, 162*minute, func(after time.Duration) {
		s.read("chamber", max(30, 80-5*(after-123*minute).Minutes()))
		s.read("core", 39.4)
	})
	b.sees(".state .word", "now")
	b.picture("cook-now")
	b.quiet(s.app.Address())
}

// Home and the bedside view say within five seconds that they are not live, as the glance
// does.
func TestEveryLivePageSaysThatItIsNot(t *testing.T) {
	for _, path := range []string{"/batches", "/batches/PS-02/bedside"} {
		s := newShop(t)
		s.open()
		s.begin(cooked)
		s.at(10 * minute)
		b := openBrowser(t)
		b.do(chromedp.Navigate(s.app.Address() + path))
		b.sees("#live", "look") // nothing was ever heard
		s.close()
		if took := b.lossIsTold(); took > 5*time.Second {
			t.Errorf("%s took %s to say that it is not live", path, took)
		}
		b.picture("lost" + strings.ReplaceAll(path, "/", "-"))
	}
}

// thumb: initials stay typed while the glance is renewed, and a button under the thumb does
// what it says.
func (b *browser) thumb(s *shop) {
	b.t.Helper()
	b.do(chromedp.SendKeys(chromedp.CSS("#by"), "M.O."))
	s.read("slow", 3.2)
	s.settle()
	b.sees("#live", "3.2")
	press := func(css string) { b.number(`(document.querySelector('` + css + `').click(), 1)`) } // the glance may be renewed between finding and clicking
	press(`#reach button[formaction="/turned"]`)
	b.sees(".result", "Entered.")
	if turns := s.batch().Turns; len(turns) != 1 || turns[0].By != "M.O." {
		b.t.Errorf("%+v", turns)
	}
	press(`.ways a[href="#note"]`)
	b.sees("#note", "Enter the note")
}

// brightest is the largest channel of a colour that anything on the page has.
const brightest = `(function () { var most = 0;
	document.querySelectorAll("html, body, body *").forEach(function (e) { var c = getComputedStyle(e);
		[c.color, c.backgroundColor, c.borderTopColor].forEach(function (v) {
			var n = (v.match(/[\d.]+/g) || []).map(Number);
			if (n.length === 4 && n[3] === 0 || e.tagName === "SCRIPT") { return; }
			most = Math.max(most, n[0], n[1], n[2]); }); });
	return most; })()`

// A chill and its pages, and the alarm's card with its decision, typed and logged.
func TestTheCardsOnAPhone(t *testing.T) {
	s := newShop(t)
	s.lostFire()
	b := openBrowser(t)
	b.do(chromedp.Navigate(s.app.Address() + "/batches"))
	b.sees("body", "To do")
	b.do(chromedp.Navigate(s.app.Address() + s.alarmPage("H3")))
	b.sees("#card", "It was off")
	b.fits()
	b.picture("card-off")
	b.do(chromedp.SendKeys(chromedp.CSS("#off-why"), "core fell to 45 only"), chromedp.SendKeys(chromedp.CSS("#off-by"), "M.O."), chromedp.Click(chromedp.CSS(`.decide button[value="continue"]`)))
	b.sees(".result", "Entered.")
	if d := s.batch().Dispositions; len(d) != 1 || d[0].What != process.ContinueAndFinish || d[0].By != "M.O." || !strings.Contains(d[0].Why, "core fell to 45 only") {
		t.Errorf("%+v", d)
	}
	s.must(process.Command{Kind: process.CommandStage, Stage: process.StageRest})
	s.must(process.Command{Kind: process.CommandStage, Stage: process.StageChill})
	s.every(minute, 121*minute, 150*minute, func(after time.Duration) {
		s.read("slow", 3)
		s.read("core", 46-0.2*(after-121*minute).Minutes())
	})
	b.do(chromedp.Navigate(s.app.Address() + "/batches/PS-02"))
	b.sees(".core", "40.")
	b.fits()
	b.picture("chill")
	b.quiet(s.app.Address())
}

func TestTheStallCardOnAPhone(t *testing.T) {
	s := newShop(t)
	s.stalled()
	b := openBrowser(t)
	b.do(chromedp.Navigate(s.app.Address() + s.alarmPage("H5")))
	b.sees("#card", "evaporation holds it")
	b.fits()
	b.picture("card-stall")
	b.do(chromedp.Click(chromedp.CSS(`.foot button[value="F"]`)))
	b.sees("#card", "°F")
	b.sees("#card", "110.0 °F and 145.0 °F")
	b.picture("card-stall-f")
	b.do(chromedp.Navigate(s.app.Address() + s.alarmPage("H5") + "#quiet"))
	b.sees("#quiet", "Silence it for 15 min")
	b.do(chromedp.SendKeys(chromedp.CSS("#quiet-by"), "M.O."), chromedp.Click(chromedp.CSS("#quiet button")))
	b.sees("body", "Hidden from phones")
	b.quiet(s.app.Address())
}

// Home with three batches, and the power card of the fridge they are in.
func TestHomeOnAPhone(t *testing.T) {
	s := newShop(t)
	s.warmed()
	for i, name := range []string{"PS-03", "PS-04"} {
		s.at(time.Duration(61+i) * minute)
		batch, err := resolve(s.cfg, Request{Plan: raw, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder"})
		if err != nil {
			t.Fatal(err)
		}
		s.must(process.Command{Kind: process.CommandNew, Batch: name, New: &batch})
	}
	s.every(12*time.Hour, 12*time.Hour, 36*time.Hour, func(time.Duration) { s.read("slow", 3) })
	b := openBrowser(t)
	b.do(chromedp.Navigate(s.app.Address()))
	b.sees("#live", "In cure, by day")
	b.sees("#live", "PS-04")
	b.fits()
	b.picture("home")
	b.do(chromedp.SendKeys(chromedp.CSS("#by"), "M.O."), chromedp.Click(chromedp.CSS(`button[value="PS-03"]`)))
	b.sees(".result", "Entered.")
	b.sees("h2", "To do")
	b.do(chromedp.Navigate(s.app.Address() + s.alarmPage("C2")))
	b.sees("#card", "Power and cold, alder")
	b.fits()
	b.picture("card-power")
	b.quiet(s.app.Address())
	s.close()
	b.do(chromedp.Navigate("about:blank"))
}

func (s *shop) alarmPage(entry string) string {
	s.t.Helper()
	alarms, err := s.reader().Alarms(s.patience())
	if err != nil {
		s.t.Fatal(err)
	}
	for _, a := range alarms {
		if a.Entry == entry {
			return fmt.Sprint("/alarms/", a.Number)
		}
	}
	s.t.Fatalf("%s never rang", entry)
	return ""
}

// Chromium finds nothing against installing the page, and shows our own page when the
// network is gone, with no number on it.
func TestThePageOnTheHomeScreen(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.read("slow", 3.3)
	s.settle()
	b := openBrowser(t)
	b.do(chromedp.Navigate(s.app.Address() + "/batches"))
	b.sees("#live", "3.3")
	if got := b.eval(`navigator.serviceWorker.ready.then(function (r) { return new Promise(function (done) {
		(function wait() { if (navigator.serviceWorker.controller && r.active.state === "activated") { done("there"); } else { setTimeout(wait, 50); } })(); }); })`); got != "there" {
		t.Fatal(got)
	}
	b.do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		told, err := cdp.Call(ctx, target, page.GetInstallabilityErrors, cdp.Empty{})
		for _, e := range told.InstallabilityErrors {
			t.Errorf("not installable: %s", e.ErrorID)
		}
		return err
	}))
	b.sees("#live", "3.3")
	s.close()
	b.sees("body", "NOT LIVE")
	chromedp.Do(b.ctx, chromedp.Navigate(s.app.Address()+"/batches"))
	b.sees("body", "no connection to flitch")
	b.picture("offline")
	if text := b.text("body"); strings.Contains(text, "3.3") || strings.Contains(text, "°") {
		t.Errorf("a number is shown without network: %q", text)
	}
}

// The first view of a batch and of home is under 100 KB on the wire: the page, its look, its
// scripts, its picture.
func TestTheFirstViewIsSmall(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	s.every(minute, 0, 90*minute, func(after time.Duration) { s.read("chamber", 80); s.read("core", 10+after.Minutes()/3) })
	for _, path := range []string{"/batches/PS-02", "/batches"} {
		b := openBrowser(t)
		b.do(chromedp.Navigate(s.app.Address() + path))
		b.drawn()
		b.sees("#live", "core")
		b.mu.Lock()
		total := b.bytes
		b.mu.Unlock()
		t.Logf("%s: %d bytes", path, total)
		if total > 100_000 || total < 2_000 {
			t.Errorf("%s: %d bytes, at most 100,000", path, total)
		}
	}
}
