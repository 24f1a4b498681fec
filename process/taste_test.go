package process

import (
	"strings"
	"testing"
)

func TestATasteCard(t *testing.T) {
	d := newDiary(t)
	for _, bad := range []*Taste{nil, {}, {Salt: 6}, {Colour: -1}, {Next: strings.Repeat("x", maxText+1)}} {
		d.wantRefusal(Command{Kind: CommandTasted, Taste: bad}, "")
	}
	d.say(hour, Command{Kind: CommandTasted, Taste: &Taste{Salt: 4, Smoke: 3, Next: "an hour less"}})
	d.say(2*hour, Command{Kind: CommandTasted, By: "M.O.", Taste: &Taste{Next: "more sugar"}})
	if c := d.batch.Tastes; len(c) != 2 || c[0].Words() != "salt 4, smoke 3; next time: an hour less" || c[1].Words() != "next time: more sugar" || c[1].By != "M.O." {
		t.Errorf("%+v", c)
	}
}
