package app

import (
	"context"
	"crypto/rand"
	"testing"
	"testing/synctest"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/process"
)

// What happens in a night that is told of here, after half past nine in the evening by the
// clocks of the house's zone. The fridge is warm twice, so that C2 rings and ends.
const (
	warmFor    = 40 * minute
	wallAway   = 42 * minute // the way to the wall fails, before C2 is over
	secondWarm = 80 * minute
	phoneAway  = 100 * minute // and the way to the phone fails
	happens    = 130 * minute // 23:40: what is the matter with the clock
	bothBack   = 145 * minute // the ways
	itIsOver   = 6 * hour     // 03:30: what ends it

	asleep = 3 * hour
	off    = 7 * minute // how long the power is off
)

// A night is what happens to the clock of the machine in one, and what is promised of it. Times
// of messages are those of the house.
type night struct {
	name    string
	evening string          // day on which it begins
	happens func(b *bubble) // nil: nothing
	over    func(b *bubble) // nil: it does not end

	ahead  time.Duration // of the house before the true time, from then on
	behind time.Duration // and behind it, until it is over
	gone   time.Duration // nothing ran for so long

	phone, wall string // what they are told of the dose, the cure and the clock; phone "": as ever
	tooOld      bool   // the link of the evening, in the morning
	brief       bool   // it ends a while after both ways are back
}

func (n night) begins(t *testing.T, zone *time.Location) time.Time {
	t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", n.evening+" 21:30", zone)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// house is what the house has at a true time.
func (n night) house(b *bubble, at time.Time) time.Time {
	switch after := at.Sub(b.machine.origin); {
	case after < happens:
		return at
	case after < itIsOver && n.behind > 0:
		return at.Add(-n.behind)
	}
	return at.Add(n.ahead)
}

func (b *bubble) must(c process.Command) {
	b.t.Helper()
	c.ID, c.By = rand.Text(), "T.V."
	if c.Kind != process.CommandShelve {
		c.Batch = "PS-02"
	}
	if err := b.app.Do(context.Background(), c); err != nil {
		b.t.Fatalf("%s: %v", c.Kind, err)
	}
	synctest.Wait()
}

// begin starts a batch of two slabs, of which one has too much of the cure.
func (b *bubble) begin() {
	b.t.Helper()
	pieces := []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}, {Name: "B", GreenG: 2268, ThicknessMM: 38}}
	batch, err := resolve(b.cfg, Request{Plan: raw, Pieces: pieces, Fridge: "alder", Smoker: "kettle"})
	if err != nil {
		b.t.Fatal(err)
	}
	batch.Plan.Cure.Days = 1.6 // at nine K3 tells it, the day before
	b.must(process.Command{Kind: process.CommandNew, New: &batch})
	b.must(process.Command{Kind: process.CommandDosed, Dosing: &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us",
		Portions: []process.DosePortion{{Pieces: []string{"A"}, CureG: 5.66}, {Pieces: []string{"B"}, CureG: 20}}}})
}

// shelve lets nobody be told of that dose until half past eight.
func (b *bubble) shelve() {
	b.t.Helper()
	b.must(process.Command{Kind: process.CommandShelve, Entry: "K4", Of: "piece B of batch PS-02", Text: "weighed again tomorrow", Until: b.tomorrow(8, 30)})
}

// tomorrow is a time of the day after the evening.
func (b *bubble) tomorrow(hour, minute int) time.Time {
	year, month, today := b.machine.origin.In(b.cfg.Site.Zone).Date()
	return time.Date(year, month, today+1, hour, minute, 0, 0, b.cfg.Site.Zone)
}

// warm is what the fridge has at a time of the night.
func warm(after time.Duration) float64 {
	for _, from := range []time.Duration{0, secondWarm} {
		if after >= from && after < from+warmFor {
			return 9
		}
	}
	return 3 + float64(after/minute%7)/10 // a probe that shows the same is taken for a stuck one
}

// until lets time pass to a time of the night, with a reading every five minutes.
func (b *bubble) until(after time.Duration) {
	b.t.Helper()
	for {
		at := b.machine.truth().Sub(b.machine.origin)
		if at >= after {
			return
		}
		next := min(after, at.Truncate(5*minute)+5*minute)
		time.Sleep(next - at)
		if next%(5*minute) == 0 && !b.mute {
			b.say("slow", warm(next))
		}
		synctest.Wait()
		b.countCopies()
	}
}

// countCopies notes when a backup was made.
func (b *bubble) countCopies() {
	b.t.Helper()
	all, err := backup.List(b.cfg.Backup.Folder)
	if err != nil {
		b.t.Fatal(err)
	}
	for range len(all) - len(b.copies) {
		b.copies = append(b.copies, b.machine.truth())
	}
}

// pass lets the whole night pass.
func (b *bubble) pass(n night) {
	b.t.Helper()
	b.open()
	b.begin()
	b.shelve()
	b.until(wallAway)
	b.wall.hear(false)
	b.until(phoneAway)
	b.phone.hear(false)
	b.until(happens)
	if n.happens != nil {
		n.happens(b)
	}
	b.until(bothBack)
	b.wall.hear(true)
	b.phone.hear(true)
	if n.brief {
		b.until(bothBack + hour)
		return
	}
	b.until(itIsOver)
	if n.over != nil {
		n.over(b)
	}
	b.until(b.tomorrow(9, 10).Sub(b.machine.origin))
}
