package app

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"flitch/process"
)

// typeOver types into a field that has a name, over what stands there.
func typeOver(name, text string) chromedp.Action[chromedp.Void] {
	css := chromedp.CSS(`[name="` + name + `"]`)
	return chromedp.Steps(chromedp.Clear(css), chromedp.SendKeys(css, text))
}

func press(value string) chromedp.Action[chromedp.Void] {
	return chromedp.Click(chromedp.CSS(`button[value="` + value + `"]`))
}

// A batch is begun on a phone without script: class, form, a slip beside its field, the
// review with the dose, the start, both doses at once, weights and a count. What is stored
// is what was typed.
func TestThePageBeginsABatchWithoutScript(t *testing.T) {
	s := newShop(t)
	s.open()
	b := openBrowser(t)
	b.noScript()
	b.do(chromedp.Navigate(s.app.Address() + "/batches"))
	b.do(chromedp.Click(chromedp.CSS(`a[href="/batches/new"]`)))
	b.sees("h1", "Start a batch")
	b.narrow(t, "FLITCH_PICTURE_CLASS")
	b.do(chromedp.Click(chromedp.CSS(`a[href="/batches/new?class=not%20fully%20cooked"]`)))
	b.sees("body", "Curing salt")
	b.do(typeOver("by", "M.O."), typeOver("name", "OL-31-40"), typeOver("weight-0", "2268"), typeOver("thick-0", "38"), typeOver("weight-1", "5,0lb"), typeOver("thick-1", "1.5in"),
		chromedp.SendKeys(chromedp.CSS(`[name="plan"]`), "Dry-cured"), chromedp.SendKeys(chromedp.CSS(`[name="rule"]`), "us"), chromedp.SendKeys(chromedp.CSS(`[name="core-0"]`), "core"),
		typeOver("nitrite", "6.25"), typeOver("ppm", "156"), press("review"))
	b.sees("#why-weight-1", "decimal comma")
	b.narrow(t, "FLITCH_PICTURE_BEGIN")
	b.do(typeOver("weight-1", "5lb"), press("review"))
	b.sees("h1", "not started yet")
	b.sees("body", "5.7 g")
	b.narrow(t, "FLITCH_PICTURE_REVIEW")
	b.do(press("start"))
	b.sees("h1", "Cure weighed")
	b.do(chromedp.SendKeys(chromedp.CSS(`[id="cure-A"]`), "57"), chromedp.SendKeys(chromedp.CSS(`[id="cure-B"]`), "5.7"), chromedp.Click(chromedp.CSS(`form.card button`)))
	b.sees("body", "a decimal point has slipped")
	b.narrow(t, "FLITCH_PICTURE_DOSES")
	b.do(chromedp.SendKeys(chromedp.CSS(`[id="cure-A"]`), "5.7"), chromedp.SendKeys(chromedp.CSS(`[name="text"]`), "comma"), chromedp.Click(chromedp.CSS(`form.card button`)))
	b.sees(".lot", "; comma")
	b.storedAsTyped(t, s)
	b.weighsAndCounts(t, s)
	b.quiet(s.app.Address())
}

func (b *browser) storedAsTyped(t *testing.T, s *shop) {
	t.Helper()
	s.settle()
	stored, open := s.app.engine.Batch("OL-31-40")
	if !open {
		t.Fatal("the batch was not begun")
	}
	if p := stored.Pieces; len(p) != 2 || p[0] != (process.Piece{Name: "A", GreenG: 2268, ThicknessMM: 38}) || p[1].GreenG != 2267.962 || p[1].ThicknessMM != 38.1 {
		t.Errorf("pieces %+v", stored.Pieces)
	}
	inA := func(t *process.Track) bool { return t.Probe.Probe == "core" && t.Probe.Piece == "A" }
	if stored.By != "M.O." || stored.Plan.Name != raw || stored.Place() != "alder" || !slices.ContainsFunc(stored.Tracks, inA) {
		t.Errorf("by %s, plan %s, in %q, cores %+v", stored.By, stored.Plan.Name, stored.Place(), stored.Tracks)
	}
	if d := stored.Dose("A"); d == nil || d.CureG != 5.7 || d.Why != "comma" || d.Said.PPM != 156 || d.Answer() != process.Met || stored.Dose("B") == nil || len(stored.Doses) != 3 {
		t.Errorf("doses %+v", stored.Doses)
	}
}

func (b *browser) weighsAndCounts(t *testing.T, s *shop) {
	t.Helper()
	b.do(chromedp.Navigate(s.app.Address()+"/batches/OL-31-40/weigh"), chromedp.SendKeys(chromedp.CSS(`[name="rung"]`), "after trim"),
		chromedp.SendKeys(chromedp.CSS(`[id="grams-A"]`), "2200"), chromedp.SendKeys(chromedp.CSS(`[id="grams-B"]`), "2180g"), chromedp.Click(chromedp.CSS(`form[action$="/weigh"] button`)))
	b.sees("table", "96.6 %") // (2200 + 2180) of 4535.962
	b.do(typeOver("count", "1"), chromedp.Click(chromedp.CSS(`form[action$="/count"] button`)))
	b.sees("main", "1 missing")
	b.narrow(t, "FLITCH_PICTURE_WEIGH")
	s.at(2 * time.Minute)
	if number, standing, err := s.app.Alarm("L4"); err != nil || !standing {
		t.Errorf("a slab that was not there when they were counted: alarm %d, %v", number, err)
	}
	b.do(chromedp.Navigate(s.app.Address() + "/compare"))
	b.sees("table", "OL-31-40")
	b.narrow(t, "FLITCH_PICTURE_COMPARE")
	b.do(chromedp.Navigate(s.app.Address() + "/batches/OL-31-40/labels"))
	b.sees(".label", "5.7 g")
	b.narrow(t, "FLITCH_PICTURE_LABELS")
}

// Labels print in full on their paper: a page of the roll for each, one sheet for all.
func TestLabelsPrintOnTheirPaper(t *testing.T) {
	s := newShop(t)
	s.open()
	batch, err := resolve(s.cfg, Request{Plan: raw, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}, {Name: "B", GreenG: 2310, ThicknessMM: 41, SkinOn: true}, {Name: "C", GreenG: 1987, ThicknessMM: 33}}, Fridge: "alder"})
	if err != nil {
		t.Fatal(err)
	}
	s.must(process.Command{Kind: process.CommandNew, New: &batch})
	s.must(process.Command{Kind: process.CommandDosed, Dosing: &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us", Portions: []process.DosePortion{{Pieces: []string{"A"}, CureG: 5.7}, {Pieces: []string{"C"}, CureG: 57}}}})
	b := openBrowser(t)
	for paper, want := range map[string]struct {
		pages   int
		wide, h float64 // mm
	}{"roll-62": {3, 62, 100}, "a4-8": {1, 210, 297}, "a4-14": {1, 210, 297}, "letter-10": {1, 215.9, 279.4}} {
		b.do(chromedp.Navigate(s.app.Address() + "/batches/PS-02/labels?paper=" + paper))
		b.sees(".label", "PS-02")
		if over := b.number(`[...document.querySelectorAll(".label")].filter(l => l.scrollHeight > l.clientHeight + 1 || l.scrollWidth > l.clientWidth + 1).length`); over > 0 {
			t.Errorf("%s: %g labels are too small for what stands on them", paper, over)
		}
		pdf := b.print(t)
		if n := strings.Count(pdf, "/Type /Page\n"); n != want.pages {
			t.Errorf("%s: %d pages, want %d", paper, n, want.pages)
		}
		if wide, h := paperOf(t, pdf); math.Abs(wide-want.wide) > 0.3 || math.Abs(h-want.h) > 0.3 {
			t.Errorf("%s: paper of %.1f by %.1f mm", paper, wide, h)
		}
		if path := os.Getenv("FLITCH_PICTURE_PDF"); path != "" {
			if err := os.WriteFile(path+"-"+paper+".pdf", []byte(pdf), 0o644); err != nil {
				t.Error(err)
			}
		}
	}
}

func (b *browser) print(t *testing.T) string {
	t.Helper()
	var pdf []byte
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		ours := true
		done, err := cdp.Call(ctx, t, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: &ours})
		pdf = done.Data
		return err
	}))
	return string(pdf)
}

// noScript switches script off, as some people do.
func (b *browser) noScript() {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
}

// paperOf is the size of the first page of a PDF, mm: it has it in points, 72 to an inch.
func paperOf(t *testing.T, pdf string) (wide, high float64) {
	t.Helper()
	_, rest, _ := strings.Cut(pdf, "/MediaBox [0 0 ")
	if _, err := fmt.Sscan(strings.SplitN(rest, "]", 2)[0], &wide, &high); err != nil {
		t.Fatalf("no size of the paper: %v", err)
	}
	return wide * 25.4 / 72, high * 25.4 / 72
}
