package app

import (
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// From a Saturday evening to Sunday, and by FLITCH_CLOCK_NIGHTS=all to Monday morning: the machine sleeps over the hour that comes
// twice, its clock is set ahead over nine o'clock and back, which the house does not follow, and it
// sleeps again. What is told at nine is told once a day: at the step over it, and the next day at nine by the
// house, which is twenty past eight.
func TestNineComesOnceADayInTheNights(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	faults := 0
	synctest.Test(t, func(t *testing.T) {
		b := newBubble(t, zone, night{evening: autumn}.begins(t, zone))
		b.open()
		b.begin()
		b.shelve()
		end, link, want := b.tomorrow(10, 0), http.StatusOK, "Sun 08:40 B6m raised, Sun 08:40 K3 raised"
		if allNights() {
			end, link = b.tomorrow(24+9, 10), http.StatusGone
			want += ", Sun 19:50 K1 raised, Sun 21:50 K1 repeated, Mon 07:50 K1 worsened, Mon 08:20 K3 worsened"
		}
		for _, at := range []struct {
			after time.Duration
			do    func()
		}{
			{5 * hour, func() { b.machine.suspend(40*minute, true) }},
			{b.tomorrow(8, 40).Sub(b.machine.origin), func() { b.machine.set(40 * minute) }},
			{b.tomorrow(9, 30).Sub(b.machine.origin), func() { b.machine.set(-40 * minute) }},
			{b.tomorrow(19, 0).Sub(b.machine.origin), func() { b.machine.suspend(30*minute, true) }},
		} {
			if at.after > end.Sub(b.machine.origin) {
				continue
			}
			b.until(at.after)
			at.do()
			faults++
		}
		b.until(end.Sub(b.machine.origin))
		var heard []string
		for _, d := range b.wall.taken() {
			if d.Entry[0] == 'K' && d.Entry != "K4" || d.Entry == "B6m" {
				heard = append(heard, d.at.In(zone).Format("Mon 15:04 ")+d.Entry+" "+string(d.Kind))
			}
		}
		if got := strings.Join(heard, ", "); !onTime(got, want) {
			t.Errorf("the wall was told\n  %s\nwant\n  %s", got, want)
		}
		for _, broken := range append(b.lost(), b.ordered()...) {
			t.Error(broken)
		}
		if got := b.answers(b.wall.taken()[0].link()); got != link {
			t.Errorf("in the end the first link is answered with %d, want %d", got, link)
		}
		b.close()
	})
	t.Logf("%d faults of the clock", faults)
}
