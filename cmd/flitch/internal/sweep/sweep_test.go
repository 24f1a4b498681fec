package sweep

import (
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
)

// A tally is what a sweep has seen, so that one that sees nothing fails.
type tally struct {
	axe                  string
	pages, looks, sweeps int
	pressed              map[string]bool
}

// A mode is one way to look at the page. What is looked at, and what is pressed:
//
//	demo   360 px, script      every page, accessible in light and dark; every form but the calculators, which have no script
//	demo   1280 px, script     every page, accessible in light
//	shop   1280 px, script     every page but the calculators, which are the same; accessible in dark
//	shop   360 px, no script   every page; every form
//	cook   360 px, script      the glance of a lit fire, accessible in light and dark; its forms
//
// So every page is seen at both widths and in both colours, and every form is sent with the
// page's scripts and without. The rest of all that could be combined is left out: the style
// sheets know of nothing that holds for one width in one colour.
type mode struct {
	width   int64
	script  bool
	schemes []string // in which the accessibility engine looks
	leaves  string   // paths that are not walked
}

// Every page is walked and every button pressed: in the demo, in an evening of its cure with
// an alarm, and in a house where people sign in.
func TestEveryPageAndEveryButton(t *testing.T) {
	t.Parallel()
	all := &tally{axe: axeSource(t), pressed: map[string]bool{}}
	var parts []*tally
	t.Run("all", func(t *testing.T) {
		for _, sweep := range []struct {
			name string
			do   func(*tally, *testing.T)
		}{{"demo", (*tally).theDemo}, {"desk", (*tally).theDesk}, {"shop", (*tally).theShop}, {"cook", (*tally).theCook}} {
			part := &tally{axe: all.axe, pressed: map[string]bool{}}
			parts = append(parts, part)
			t.Run(sweep.name, func(t *testing.T) {
				t.Parallel()
				sweep.do(part, t)
			})
		}
	})
	for _, part := range parts {
		all.pages, all.looks, all.sweeps = all.pages+part.pages, all.looks+part.looks, all.sweeps+part.sweeps
		maps.Copy(all.pressed, part.pressed)
	}
	t.Logf("%d pages walked; the accessibility engine looked %d times; %d kinds of forms sent", all.pages, all.looks, len(all.pressed))
	if all.sweeps < len(parts) {
		return // a part of it was asked for, or failed
	}
	for _, r := range table {
		if r.apart == "" && !all.pressed[r.action+" "+r.button] {
			t.Errorf("no button of %s %s was pressed", r.action, r.button)
		}
	}
}

func (all *tally) theDemo(t *testing.T) {
	h, b := &house{daemon: demo(t, "C2"), pressed: all.pressed}, openTab(t, 360)
	m := mode{360, true, []string{"light", "dark"}, ""}
	seen := slices.DeleteFunc(all.walks(b, h, m), func(v visited) bool { return strings.HasPrefix(v.path, "/reckon/") })
	all.presses(b, h, m, seen, "OL-31-27")
	b.open(h.address + "/batches/OL-31-27") // closed by now
	all.looksAt(b, m, "/batches/OL-31-27, closed")
	b.quiet(h.address)
	all.sweeps++
}

func (all *tally) theDesk(t *testing.T) {
	h, b := &house{daemon: demo(t, "C2")}, openTab(t, 1280)
	all.walks(b, h, mode{1280, true, []string{"light"}, ""})
	b.quiet(h.address)
	all.sweeps++
}

func (all *tally) theShop(t *testing.T) {
	phone := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	t.Cleanup(phone.Close)
	s := openShop(t, phone.URL, "")
	s.begin()
	s.say("shed/box", "31.5")
	h := &house{daemon: s.daemon, token: s.token, pressed: all.pressed}
	desk := openTab(t, 1280)
	desk.enters(s, "T.V.", curerPassword)
	all.walks(desk, h, mode{1280, true, []string{"dark"}, "/reckon/"})
	desk.quiet(s.address)
	plain := openTab(t, 360)
	plain.withoutScript()
	plain.enters(s, "T.V.", curerPassword)
	m := mode{360, false, nil, ""}
	all.presses(plain, h, m, all.walks(plain, h, m), "OL-31-04")
	plain.quiet(s.address)
	all.sweeps++
}

// theCook looks at what only a lit fire shows: the glance and its buttons.
func (all *tally) theCook(t *testing.T) {
	h, b := &house{daemon: demo(t, "cook"), pressed: all.pressed}, openTab(t, 360)
	m := mode{360, true, []string{"light", "dark"}, ""}
	h.refused = func(path string) { b.looks(path, m.width) }
	const path = "/batches/OL-31-27"
	b.open(h.address + path)
	seen := []visited{{path, ask[[]button](b, listButtons)}}
	all.looksAt(b, m, path)
	b.pressAll(h, seen)
	b.quiet(h.address)
	all.sweeps++
}

// anEntry is the page of one line that was entered: there are many, all alike.
func anEntry(path string) bool { return strings.Contains(path, "/entries/") }

func (all *tally) looksAt(b *tab, m mode, path string) {
	b.t.Helper()
	all.pages++
	b.looks(path, m.width)
	all.looks += b.seesNothingSerious(all.axe, path, m.schemes)
}

// anAnswer is a calculator that was asked.
const anAnswer = "/reckon/chill?core=54.4C&air=3C&tau=3h&option=B3"

// walks looks at every page there is from the first one on, but the lines that were entered.
func (all *tally) walks(b *tab, h *house, m mode) []visited {
	b.t.Helper()
	seen := b.walk(h.address, []string{"/", anAnswer}, func(path string) bool {
		return !anEntry(path) && (m.leaves == "" || !strings.HasPrefix(path, m.leaves))
	}, func(page visited) { all.looksAt(b, m, page.path) })
	if len(seen) < 8 {
		b.t.Errorf("only %d pages: the sweep sees nothing", len(seen))
	}
	b.t.Logf("%d px: %d pages", m.width, len(seen))
	return seen
}

// presses sends every form of the pages that were seen; then those of what was so entered;
// and last those after which the page offers something else.
func (all *tally) presses(b *tab, h *house, m mode, seen []visited, batch string) {
	b.t.Helper()
	h.refused = func(path string) {
		b.looks(path, m.width)
		if m.script {
			all.looks += b.seesNothingSerious(all.axe, path, []string{"light"})
		}
	}
	early, late := split(seen)
	b.pressAll(h, early)
	starts := []string{"/batches/" + batch + "/entries"}
	for _, page := range seen {
		if strings.HasPrefix(page.path, "/alarms/") {
			starts = append(starts, page.path)
		}
	}
	known := map[string]bool{}
	again := b.walk(h.address, starts, func(path string) bool { return anEntry(path) || slices.Contains(starts, path) }, func(page visited) {
		if shape := fmt.Sprint(fields(page)); !known[shape] {
			known[shape] = true
			all.looksAt(b, m, page.path)
		}
	})
	entered, _ := split(again)
	b.pressAll(h, entered)
	b.pressAll(h, late)
}

func fields(v visited) (out [][]string) {
	for _, b := range v.buttons {
		out = append(out, b.Fields)
	}
	return out
}

// split parts the buttons that leave the page as it is from those that do not.
func split(seen []visited) (early, late []visited) {
	for _, page := range seen {
		first, second := visited{path: page.path}, visited{path: page.path}
		for _, b := range page.buttons {
			if r, ok := rowOf(b); ok && r.late > 0 {
				second.buttons = append(second.buttons, b)
			} else {
				first.buttons = append(first.buttons, b)
			}
		}
		early, late = append(early, first), append(late, second)
	}
	return early, late
}
