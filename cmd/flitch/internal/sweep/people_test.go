package sweep

import (
	"fmt"
	"slices"
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
	t.Parallel()
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

// A pair of people, each at a phone of their own.
type pair [2]*tab

func openPair(t *testing.T) pair { return pair{openTab(t, 360), openTab(t, 360)} }

// at opens a page on both phones and types the initials, where they are asked for.
func (p pair) at(url string, by [2]string) {
	for i, b := range p {
		b.open(url)
		ask[bool](b, `(() => { document.getElementsByName("by").forEach(e => { e.value = %q; }); return true; })()`, by[i])
	}
}

// press presses on both at the same moment, and waits for both answers.
func (p pair) press(t *testing.T, css string) {
	t.Helper()
	var both sync.WaitGroup
	for _, b := range p {
		both.Go(func() {
			found, err := tryAsk[bool](b, `(b => { document.documentElement.dataset.before = "1"; if (b) { b.click(); } return b !== null; })(document.querySelector(%q))`, css)
			if err != nil || !found {
				t.Errorf("%s: found %t, %v", css, found, err)
			}
		})
	}
	both.Wait()
	for _, b := range p {
		b.until("an answer", arrived)
	}
}

var curerAndReviewer = [2]string{"T.V.", "M.O."}

// Two people press the same button at the same moment: what they say happened once, and who
// was second is told who was first.
func TestTwoPeoplePressTheSameButton(t *testing.T) {
	t.Parallel()
	d := demo(t, "C2")
	const batch, reach = "/batches/OL-31-27", `#reach button[data-key=reach-%s]`
	for _, c := range []struct {
		page, css, kind string
		by              [2]string
	}{
		{batch, fmt.Sprintf(reach, "on-it"), "acknowledge", curerAndReviewer},
		{batch, fmt.Sprintf(reach, "turned"), "turned", curerAndReviewer},
		{batch, fmt.Sprintf(reach, "stage"), "stage", curerAndReviewer},
		{batch + "/papers", `form[action$="/papers/review"] button`, "review", [2]string{"M.O.", "M.O."}}, // one person at two phones: T.V. began the batch and may not
	} {
		p := openPair(t)
		p.at(d.address+c.page, c.by)
		before := d.times(c.kind)
		p.press(t, c.css)
		if n := d.times(c.kind) - before; n != 1 {
			t.Errorf("%s: %d events, want one; they were told %q and %q", c.kind, n, p[0].told(), p[1].told())
		}
		firsts, seconds := 0, 0
		for _, b := range p {
			switch told := ask[string](b, `(e => e ? e.innerText : "")(document.querySelector(".result[role=status]"))`); {
			case strings.Contains(told, "One entry stands"):
				seconds++
			case told != "":
				firsts++
			}
		}
		if firsts != 1 || seconds != 1 {
			t.Errorf("%s: %d were told that it was entered, and %d that it was before: %q and %q", c.kind, firsts, seconds, p[0].told(), p[1].told())
		}
	}
}

// What one person entered both take back, on two phones that show it: it is struck once, and
// both are told that it was.
func TestTwoPeopleTakeItBack(t *testing.T) {
	t.Parallel()
	d, p := demo(t, "C2"), openPair(t)
	p.at(d.address+"/batches/OL-31-27", curerAndReviewer)
	p[0].turnsAll()
	p[1].open(ask[string](p[0], `location.href`))
	ask[bool](p[1], `(() => { document.getElementsByName("by").forEach(e => { e.value = "M.O."; }); return true; })()`)
	p.press(t, takeBack)
	if n := d.times("struck"); n != 1 {
		t.Errorf("struck %d times, want once", n)
	}
	for _, b := range p {
		if told := ask[string](b, `document.querySelector(".result").innerText`); !strings.Contains(told, "Taken back") {
			t.Errorf("told %q", told)
		}
	}
}

// Two people start the same batch from two reviews: there is one, and who was second is told
// beside the name.
func TestTwoPeopleBeginTheSameBatch(t *testing.T) {
	t.Parallel()
	d, p := demo(t, "C2"), openPair(t)
	for _, b := range p {
		const path = "/batches/new?class=not+fully+cooked"
		b.open(d.address + path)
		i := slices.IndexFunc(ask[[]button](b, listButtons), func(b button) bool { return b.Value == "review" })
		one := ask[[]button](b, listButtons)[i]
		r, _ := rowOf(one)
		b.fill(d.address, press{r, one, path}, r.good, false)
	}
	p.press(t, `button[value=start]`)
	if n := d.times("batch"); n != 2 {
		t.Errorf("%d batches, want that of the demo and one", n)
	}
	begun, told := 0, 0
	for _, b := range p {
		if ask[bool](b, `document.querySelector(".result[role=status]") !== null`) {
			begun++
		}
		if ask[bool](b, besideField, "name") {
			told++
		}
	}
	if begun != 1 || told != 1 {
		t.Errorf("%d began it and %d were told: %q and %q", begun, told, p[0].told(), p[1].told())
	}
}

// times counts how often something of a kind happened to the batch of the demo.
func (d *daemon) times(kind string) (n int) {
	d.t.Helper()
	if kind == "batch" {
		var all []struct{ ID string }
		d.read("/api/batches", "", &all)
		return len(all)
	}
	var b struct {
		Entries []struct {
			Kind   string
			Struck *struct{}
		}
		Reviews []struct{ ID string }
		Stages  []struct{ Name string }
		Alarms  []struct {
			By string `json:"acknowledged_by"`
		}
	}
	d.read("/api/batches/OL-31-27", "", &b)
	switch kind {
	case "stage":
		return len(b.Stages)
	case "review":
		return len(b.Reviews)
	case "struck":
		for _, e := range b.Entries {
			if e.Struck != nil {
				n++
			}
		}
		return n
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
