package sweep

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

const takeBack = `.result form[action="/strike"] button`

// turnsAll presses the button of the turn, and is told so.
func (b *tab) turnsAll() {
	b.t.Helper()
	ask[bool](b, `(() => { document.documentElement.dataset.before = "1"; document.getElementById("by").value = "T.V."; document.querySelector("#reach button[data-key=reach-turned]").click(); return true; })()`)
	b.until("the turn", arrived)
	if told := ask[string](b, `document.querySelector(".result[role=status]").innerText`); !strings.Contains(told, "Turned, all slabs") {
		b.t.Fatalf("told %q", told)
	}
}

// later lets so many ms pass in the page, and none of this machine's.
func (b *tab) later(ms float64) {
	b.t.Helper()
	end := ask[float64](b, `Date.now()`) + ms
	_, err := chromedp.Call(b.ctx, emulation.SetVirtualTimePolicy, emulation.SetVirtualTimePolicyParams{Policy: emulation.VirtualTimePolicyAdvance, Budget: &ms})
	if err != nil {
		b.t.Fatal(err)
	}
	b.until("a later time", fmt.Sprintf(`Date.now() >= %.0f`, end))
}

// After a press stands a button that takes it back, which the keyboard reaches. It strikes the
// entry, and is gone then.
func TestAPressIsTakenBackByKeyboard(t *testing.T) {
	t.Parallel()
	d, b := demo(t, "C2"), openTab(t, 360)
	b.open(d.address + "/batches/OL-31-27")
	b.turnsAll()
	turns := d.times("turned")
	b.tabTo("the button that takes it back", active(takeBack))
	b.presses13("that it was taken back")
	if told := ask[string](b, `document.querySelector(".result").innerText`); !strings.Contains(told, "Taken back") {
		t.Errorf("told %q", told)
	}
	if ask[bool](b, `document.querySelector(%q) !== null`, takeBack) {
		t.Error("what was taken back can be taken back")
	}
	if struck := d.times("struck"); struck != 1 || d.times("turned") != turns {
		t.Errorf("%d entries are struck, of %d turns now %d stand on the record", struck, turns, d.times("turned"))
	}
	b.quiet(d.address)
}

// When the minute is over the button is gone, without the page being loaded again; what was
// entered stands.
func TestTheButtonGoesWithTheMinute(t *testing.T) {
	t.Parallel()
	d, b := demo(t, "C2"), openTab(t, 1280)
	b.open(d.address + "/batches/OL-31-27")
	b.turnsAll()
	shown := `document.querySelector(".result form[action='/strike']").checkVisibility()`
	left := ask[float64](b, `Number(document.querySelector(".result form[action='/strike']").dataset.for)`)
	if left <= 0 || left > 60_000 {
		t.Errorf("it is to go in %.0f ms", left)
	}
	b.later(left / 2)
	if !ask[bool](b, shown) {
		t.Error("it is gone before the minute is over")
	}
	b.later(left)
	b.until("no button", "!"+shown)
	if ask[int64](b, `performance.getEntriesByType("navigation").length`) != 1 || d.times("struck") != 0 {
		t.Error("it was struck, or the page loaded again")
	}
}
