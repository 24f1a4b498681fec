package sweep

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// focused is what has the focus, and whether a person can see that it has. Inside a field
// of a time the browser itself marks the part.
const focused = `(() => { const e = document.activeElement, s = getComputedStyle(e);
	return {is: e.tagName + " " + (e.getAttribute("data-key") || e.name || e.innerText || "").slice(0, 40), body: e === document.body,
		seen: /^(date|time)/.test(e.type) || e.matches(":focus-visible") && s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2}; })()`

type focus struct {
	Is   string `json:"is"`
	Body bool   `json:"body"`
	Seen bool   `json:"seen"`
}

func (b *tab) key(keys string) focus {
	b.t.Helper()
	b.do(chromedp.KeyEvent(keys))
	return ask[focus](b, focused)
}

// tabTo goes on by the Tab key until a script says that it is there. Every stop on the way
// has to be seen.
func (b *tab) tabTo(what, there string) {
	b.t.Helper()
	for range 150 {
		f := b.key("\t")
		if !f.Body && !f.Seen {
			b.t.Errorf("nobody sees that %s has the focus", f.Is)
		}
		if ask[bool](b, there) {
			return
		}
	}
	b.t.Fatalf("the Tab key never comes to %s", what)
}

func active(css string) string { return fmt.Sprintf(`document.activeElement.matches(%q)`, css) }

// By keyboard alone: initials, a note under a lid that the space bar opens, a turn by Enter;
// the focus stays where it is when the glance is swapped.
func TestByKeyboardOnly(t *testing.T) {
	d := demo(t, "C2")
	b := openTab(t, 1280)
	b.open(d.address + "/batches/OL-31-27")
	b.tabTo("the note", active("summary")+` && document.activeElement.parentElement.querySelector("form[action='/note']") !== null`)
	b.key(" ")
	b.until("the open form", `document.querySelector("form[action='/note']").offsetHeight > 0`)
	b.tabTo("its initials", active(`form[action="/note"] input[name=by]`))
	b.key("M.O.")
	b.tabTo("its text", active(`form[action="/note"] textarea`))
	b.key("by keyboard")
	b.tabTo("its button", active(`form[action="/note"] button`))
	b.presses13("a note")
	if !strings.Contains(d.entries(""), "by keyboard") {
		t.Error("the note is not in the batch")
	}
	b.open(d.address + "/batches/OL-31-27")
	b.tabTo("the button of the turn", active(`button`)+` && document.activeElement.form && (document.activeElement.formAction || document.activeElement.form.action).endsWith("/turned")`)
	b.presses13("a turn")
	b.open(d.address + "/batches/OL-31-27")
	b.tabTo("a button of the glance", active(`#live [data-key]`))
	was := ask[string](b, `document.activeElement.getAttribute("data-key")`)
	ask[bool](b, `document.querySelector("#live > *").dataset.before = "1", true`)
	d.note(t)
	b.until("a newer glance", `document.querySelector("#live [data-before]") === null`)
	if now := ask[focus](b, focused); !strings.Contains(now.Is, was) || !now.Seen {
		t.Errorf("the focus was at %s, and is at %+v after the glance was swapped", was, now)
	}
	b.quiet(d.address)
}

// presses13 presses Enter on a button and expects the answer.
func (b *tab) presses13(what string) {
	b.t.Helper()
	ask[bool](b, `document.documentElement.dataset.before = "1", true`)
	b.do(chromedp.KeyEvent("\r"))
	b.until(what, `document.readyState === "complete" && document.documentElement.dataset.before === undefined && document.querySelector(".result[role=status]") !== null`)
}

// note is what somebody else writes meanwhile.
func (d *daemon) note(t *testing.T) {
	t.Helper()
	s := &shop{daemon: d}
	if status, text := s.post("/api/commands", "", map[string]any{"kind": "note", "batch": "OL-31-27", "by": "T.V.", "text": "meanwhile"}); status != 200 {
		t.Fatal(status, text)
	}
}

// Two people press the same button at the same moment: what they say happened once, and who
// was second is told.
func TestTwoPeoplePressTheSameButton(t *testing.T) {
	d := demo(t, "C2")
	for _, c := range []struct{ action, kind string }{{"/acknowledge", "acknowledge"}, {"/turned", "turned"}, {"/stage", "stage"}} {
		tabs := []*tab{openTab(t, 360), openTab(t, 360)}
		for i, b := range tabs {
			b.open(d.address + "/batches/OL-31-27")
			ask[bool](b, `(() => { document.documentElement.dataset.before = "1"; document.getElementById("by").value = %q; return true; })()`, []string{"T.V.", "M.O."}[i])
		}
		before := d.times(c.kind)
		var both sync.WaitGroup
		for _, b := range tabs {
			both.Go(func() {
				_, err := tryAsk[bool](b, `(() => { const all = [...document.querySelectorAll("button")]; all.find(b => b.form && new URL(b.getAttribute("formaction") ? b.formAction : b.form.action).pathname === %q).click(); return true; })()`, c.action)
				if err != nil {
					t.Error(err)
				}
			})
		}
		both.Wait()
		entered := 0
		for _, b := range tabs {
			b.until("an answer", `document.readyState === "complete" && document.documentElement.dataset.before === undefined`)
			if ask[bool](b, `document.querySelector(".result[role=status]") !== null`) {
				entered++
			}
		}
		if entered != 1 {
			t.Errorf("%s: %d of two people are told that it was entered", c.action, entered)
		}
		if n := d.times(c.kind) - before; n != 1 {
			t.Errorf("%s: %d events, want one; they were told %q and %q", c.action, n, tabs[0].told(), tabs[1].told())
		}
	}
}

// times counts how often something of a kind happened to the batch of the demo.
func (d *daemon) times(kind string) (n int) {
	d.t.Helper()
	var b struct {
		Entries []struct{ Kind string }
		Stages  []struct{ Name string }
		Alarms  []struct {
			By string `json:"acknowledged_by"`
		}
	}
	d.read("/api/batches/OL-31-27", "", &b)
	switch kind {
	case "stage":
		return len(b.Stages)
	case "acknowledge":
		for _, a := range b.Alarms {
			if a.By != "" {
				n++
			}
		}
		return n
	}
	for _, e := range b.Entries {
		if e.Kind == kind {
			n++
		}
	}
	return n
}
