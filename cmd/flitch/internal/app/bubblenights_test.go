package app

import (
	"os"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// The evenings on which the nights begin.
const (
	ordinary = "2031-05-10"
	spring   = "2031-03-29"
	autumn   = "2031-10-25"
)

// What the wall and the phone of somebody with quiet hours from ten to seven are told in every
// night: a dose that is off, which is then on a shelf until half past eight, and the end of a
// cure, of which K3 tells at nine. All this is on time by the clock of the house, and once.
const (
	toTheWall  = "Sat 21:30 K4 raised, Sun 08:30 K4 re-alarmed, Sun 09:00 K3 raised"
	toThePhone = "Sat 21:30 K4 raised, Sun 07:00 summary, Sun 08:30 K4 re-alarmed, Sun 09:00 K3 raised"
)

// The clock of the machine is told of on the wall, late because that could not hear, and over
// an hour after it went right. The phone has it in the summary of the night.
func clockTold(more string) string {
	return strings.Replace(toTheWall, ", Sun", ", late B6m raised"+more+", Sun", 1)
}

func jump(d time.Duration) func(*bubble) { return func(b *bubble) { b.machine.set(d) } }

// Nights and what is promised in each. Beside its line, in all of them: no message twice, none
// lost, none later than the next try after its way is back, no more than twelve in ten
// minutes; a backup every six hours, an hour later at most and never more than one early; the log runs
// forwards. A link of the evening answers for 24 h of the house: after a step of a day it is
// too old, and the alarm has asked again with a new one.
var nights = []night{
	{name: "nothing", evening: ordinary, wall: toTheWall},
	{name: "an hour ahead", evening: ordinary, happens: jump(hour), ahead: hour, wall: clockTold(", Sun 01:40 B6m cleared")},
	{name: "an hour back", evening: ordinary, happens: jump(-hour), wall: clockTold("")},
	{name: "an hour ahead and back", evening: ordinary, happens: jump(hour), over: jump(-hour), ahead: hour, wall: clockTold(", Sun 01:40 B6m cleared, Sun 04:30 B6m raised")},
	// All that a day would have brought is told at once, and once; what can wait has its morning.
	{name: "a day ahead", evening: ordinary, happens: jump(day), ahead: day, phone: "Sat 21:30 K4 raised, Mon 07:00 summary",
		wall: "Sat 21:30 K4 raised, late B6m raised, late K1 raised, late K3 raised, late K4 re-alarmed, Mon 00:40 B6m cleared, Mon 01:41 K1 repeated", tooOld: true},
	{name: "a day back and right again", evening: ordinary, happens: jump(-day), over: jump(day), wall: clockTold(", Sun 04:30 B6m cleared")},
	{name: "thirty years ahead and back", evening: ordinary, happens: jump(30 * 365 * day), over: jump(-30 * 365 * day), wall: clockTold(", Sun 04:30 B6m cleared")},
	{name: "it sleeps", evening: ordinary, gone: asleep, happens: func(b *bubble) { b.machine.suspend(asleep, true) }, wall: toTheWall},
	{name: "it is held, and only the clock on the wall goes on", evening: ordinary, gone: asleep, happens: func(b *bubble) { b.machine.suspend(asleep, false) },
		wall: clockTold(", Sun 03:40 B6m cleared")},
	{name: "off, and 1970", evening: ordinary, gone: off, behind: off, over: func(b *bubble) { b.machine.right() }, wall: clockTold(", Sun 04:30 B6m cleared"),
		happens: func(b *bubble) {
			b.close()
			b.machine.suspend(off, true)
			b.machine.boot(epoch)
			b.open()
		}},
	{name: "the night in spring", evening: spring, wall: toTheWall},
	{name: "the night in autumn", evening: autumn, wall: toTheWall},
	{name: "a leap second that is smeared", evening: ordinary, happens: func(b *bubble) { b.machine.smear = b.machine.truth() }, wall: toTheWall},
	{name: "a leap second that is stepped", evening: ordinary, happens: jump(-time.Second), wall: toTheWall},
}

// The nights that run with all tests; FLITCH_CLOCK_NIGHTS=all runs each.
var usual = []string{"an hour ahead and back", "a day ahead", "off, and 1970"}

func allNights() bool { return os.Getenv("FLITCH_CLOCK_NIGHTS") == "all" }

// passed runs a night with all loops of the daemon in a bubble, and returns what was broken.
func passed(t *testing.T, n night, odd func(*bubble)) (broken []string) {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		b := newBubble(t, zone, n.begins(t, zone))
		odd(b)
		b.pass(n)
		broken = b.judge(n)
		b.close()
	})
	return broken
}

func TestNothingIsLostOrDoubledInTheNights(t *testing.T) {
	ran := 0
	t.Run("nights", func(t *testing.T) {
		for _, n := range nights {
			if !allNights() && !slices.Contains(usual, n.name) {
				continue
			}
			ran++
			t.Run(n.name, func(t *testing.T) {
				t.Parallel()
				for _, broken := range passed(t, n, func(*bubble) {}) {
					t.Error(broken)
				}
			})
		}
	})
	t.Logf("soak nights_injected %d faults - -", ran)
	if ran < len(usual) {
		t.Fatalf("%d nights", ran)
	}
}

// The controls: a daemon that reads the two clocks of its machine at two moments, and one that
// follows the clock on the wall and tells nobody, break the promises of the same nights.
func TestTheNightsFindABadClock(t *testing.T) {
	for name, c := range map[string]struct {
		night string
		odd   func(*bubble)
		want  string
	}{
		"read apart":                    {"nothing", func(b *bubble) { b.machine.apart = 3 * minute }, "B6m raised"},
		"a step back that is followed":  {"an hour back", func(b *bubble) { b.blind = true }, "after that could hear"},
		"a step ahead that is not told": {"an hour ahead", func(b *bubble) { b.blind = true }, "the wall was told"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			i := slices.IndexFunc(nights, func(n night) bool { return n.name == c.night })
			n := nights[i]
			n.brief = true
			if broken := strings.Join(passed(t, n, c.odd), "\n"); !strings.Contains(broken, c.want) {
				t.Errorf("nothing of %q was found:\n%s", c.want, broken)
			}
		})
	}
}
