package app

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"flitch/process"
	"flitch/process/engine"
)

// A house that is ahead comes back at half pace while nothing runs by time. What does is as
// long meanwhile as it was said to be: a shelf, and the minutes until a ring.
func TestNothingIsStretchedWhileTheHouseComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBubble(t, time.UTC, dawn.Add(6*hour))
		b.open()
		defer b.close()
		fridge := func(n int, until func() bool) (took time.Duration) {
			for ; n > 0 && !until(); n-- {
				time.Sleep(minute)
				took += minute
				b.say("slow", 3+float64(n%7)/10)
				synctest.Wait()
			}
			return took
		}
		never := func() bool { return false }
		ahead := func() time.Duration { return b.app.clock.Now().Sub(b.machine.truth()) }
		fridge(5, never)
		b.machine.set(3 * hour)
		fridge(3, never)
		b.machine.set(-3 * hour)
		fridge(20, never)
		before := ahead()
		if before > 3*hour-5*minute || before < 2*hour {
			t.Fatalf("after 20 minutes it is %v ahead: it does not come back", before)
		}

		b.must(process.Command{Kind: process.CommandShelve, Entry: "C1", Of: "alder", Text: "defrosted", Until: b.app.clock.Now().Add(30 * minute)})
		ended := func() bool {
			lines, err := b.app.db.Journal("")
			return err != nil || len(lines) > 0 && strings.HasPrefix(lines[len(lines)-1].Text, "C1, fridge alder: no longer")
		}
		if took := fridge(90, ended); took > 32*minute {
			t.Errorf("a shelf for half an hour lasted %v", took)
		}
		fridge(10, never)

		b.app.faults.Set(engine.FaultBroker, "away")
		rang := func() bool {
			all := b.phone.taken()
			return len(all) > 0 && all[len(all)-1].Entry == "B7"
		}
		if took := fridge(20, rang); took > 7*minute {
			t.Errorf("five minutes without the broker rang after %v", took)
		}
		b.app.faults.Clear(engine.FaultBroker)
		fridge(8*60, func() bool { _, doubted := b.app.house.Off(); return !doubted })
		if off := ahead(); off.Abs() > time.Second {
			t.Errorf("in the end it is %v ahead", off)
		}
	})
}
