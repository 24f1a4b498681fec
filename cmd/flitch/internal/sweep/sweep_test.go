package sweep

import (
	"testing"
)

// A mode is one way to look at the page.
type mode struct {
	name   string
	width  int64
	script bool
}

var modes = []mode{{"360 px", 360, true}, {"1280 px", 1280, true}, {"360 px, script off", 360, false}}

// Every page is walked and every button pressed, in each mode on a daemon of its own.
func TestEveryPageAndEveryButton(t *testing.T) {
	axe := axeSource(t)
	pressed := map[string]bool{}
	pages, looks := 0, 0
	for _, m := range modes {
		t.Run(m.name, func(t *testing.T) {
			d := demo(t, "C1")
			b := openTab(t, m.width)
			if !m.script {
				b.withoutScript()
			}
			seen := b.walk(d.address, func(path string) {
				b.looks(path, m.width)
				if m.script {
					looks += b.seesNothingSerious(axe, path)
				}
			})
			pages += len(seen)
			b.pressAll(d, "", seen, pressed)
			b.quiet(d.address)
			t.Logf("%d pages", len(seen))
		})
	}
	t.Logf("%d pages walked, the accessibility engine looked %d times", pages, looks)
	if pages < 20 || looks < 2*10 {
		t.Errorf("only %d pages walked, %d looks: the sweep sees nothing", pages, looks)
	}
	for _, r := range table {
		if r.apart == "" && !pressed[r.action] {
			t.Errorf("no button of %s was pressed", r.action)
		}
	}
}
