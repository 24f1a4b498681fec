package sweep

import (
	"net/http"
	"net/http/httptest"
	"testing"
)

// A mode is one way to look at the page.
type mode struct {
	name   string
	width  int64
	script bool
}

var modes = []mode{{"360 px", 360, true}, {"1280 px", 1280, true}, {"360 px, script off", 360, false}}

// A tally is what a sweep has seen, so that one that sees nothing fails.
type tally struct {
	axe          string
	pages, looks int
	sweeps       int // that have ended
	pressed      map[string]bool
}

// Every page is walked and every button pressed, in each mode on daemons of its own: the
// demo in an evening of its cure with an alarm, and a house where people sign in.
func TestEveryPageAndEveryButton(t *testing.T) {
	all := &tally{axe: axeSource(t), pressed: map[string]bool{}}
	for _, m := range modes {
		t.Run(m.name+", demo", func(t *testing.T) {
			d := demo(t, "C2")
			all.sweep(t, m, openMode(t, m), d, "")
		})
		t.Run(m.name+", shop", func(t *testing.T) {
			phone := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
			t.Cleanup(phone.Close)
			s := openShop(t, phone.URL, "")
			s.begin()
			s.say("shed/box", "31.5")
			b := openMode(t, m)
			b.enters(s, "T.V.", curerPassword)
			all.sweep(t, m, b, s.daemon, s.token)
		})
	}
	t.Run("360 px, in the cook", func(t *testing.T) { all.inTheCook(t) })
	t.Logf("%d pages walked; the accessibility engine looked %d times", all.pages, all.looks)
	if all.sweeps < 2*len(modes) {
		return // a part of it was asked for
	}
	for _, r := range table {
		if r.apart == "" && !all.pressed[r.action] {
			t.Errorf("no button of %s was pressed", r.action)
		}
	}
}

func openMode(t *testing.T, m mode) *tab {
	t.Helper()
	b := openTab(t, m.width)
	if !m.script {
		b.withoutScript()
	}
	return b
}

func (all *tally) sweep(t *testing.T, m mode, b *tab, d *daemon, token string) {
	t.Helper()
	seen := b.walk(d.address, func(path string) {
		b.looks(path, m.width)
		if m.script {
			all.looks += b.seesNothingSerious(all.axe, path)
		}
	})
	if all.pages += len(seen); len(seen) < 8 {
		t.Errorf("only %d pages: the sweep sees nothing", len(seen))
	}
	b.pressAll(d, token, seen, all.pressed)
	b.quiet(d.address, "404 of "+d.address+"/batches/OL-31-04/glance") // of the batch that was just closed, which the page then leaves
	t.Logf("%d pages", len(seen))
	all.sweeps++
}

// inTheCook looks at what only a lit fire shows: the glance and its buttons.
func (all *tally) inTheCook(t *testing.T) {
	d, b := demo(t, "cook"), openTab(t, 360)
	const path = "/batches/OL-31-27"
	b.open(d.address + path)
	seen := []visited{{path, ask[[]button](b, listButtons)}}
	b.looks(path, 360)
	all.looks += b.seesNothingSerious(all.axe, path)
	b.pressAll(d, "", seen, all.pressed)
	b.quiet(d.address)
}
