package nights

import (
	"time"

	"flitch/ingest/sim"
	"flitch/process"
)

// planDay writes down what will happen on a day: a cook on Wednesday and Saturday,
// the cure of the next batch from the evening on, turns, doors, the wifi, the weather,
// and perhaps a fault.
func (y *year) planDay(n int, midnight time.Time) {
	at := func(d time.Duration, do func(*year)) { y.todo = append(y.todo, deed{midnight.Add(d), do}) }
	cooking := midnight.Weekday() == time.Wednesday || midnight.Weekday() == time.Saturday
	y.weather(n)
	y.doors(at)
	y.wifi(at)
	switch {
	case n == 0:
		at(time.Minute, begin)
	case cooking:
		y.cook(at)
	}
	at(18*time.Hour+y.upTo(90*time.Minute), func(y *year) { y.say(process.Command{Kind: process.CommandTurned}) })
	if y.faultToday(n) {
		y.breakDown(at, cooking)
	}
}

func (y *year) upTo(d time.Duration) time.Duration {
	return time.Duration(y.shop.random.Int64N(int64(d)))
}

// weather makes the room warmer in summer, and on some days hot.
func (y *year) weather(n int) {
	y.shop.larder.MeanC = 17 + 6*float64(n%365)/182
	if n%365 > 182 {
		y.shop.larder.MeanC = 17 + 6*float64(365-n%365)/182
	}
	if y.shop.random.IntN(12) == 0 {
		y.shop.larder.MeanC += 6
	}
}

// doors are opened a few times a day, for up to three quarters of a minute.
func (y *year) doors(at func(time.Duration, func(*year))) {
	for range 3 + y.shop.random.IntN(5) {
		open := 7*time.Hour + y.upTo(14*time.Hour)
		shut := open + 10*time.Second + y.upTo(35*time.Second)
		at(open, func(y *year) {
			if y.shop.door == 0 {
				y.shop.alder.Door(0.25)
			}
		})
		at(shut, func(y *year) {
			if y.shop.door == 0 && !y.ajar() {
				y.shop.alder.Door(0)
			}
		})
	}
}

// ajar reports a fault of the door that has no switch: shutting it is no use.
func (y *year) ajar() bool {
	for _, f := range y.faults {
		if f.Kind == "door ajar, no switch" && !y.Now.Before(f.At) && y.Now.Before(f.Mended) {
			return true
		}
	}
	return false
}

// wifi goes away for a while on every third day; what was measured meanwhile comes
// late.
func (y *year) wifi(at func(time.Duration, func(*year))) {
	if y.shop.random.IntN(3) > 0 {
		return
	}
	gone := y.upTo(20 * time.Hour)
	lost := y.shop.random.IntN(2) == 0
	at(gone, func(y *year) {
		for _, name := range probeNames[:5] { // of the fridges
			y.shop.heldBack[name] = true
		}
	})
	at(gone+5*time.Minute+y.upTo(18*time.Minute), func(y *year) {
		if lost {
			y.shop.waiting = nil
		}
		y.shop.back(y.Now)
	})
}

// begin starts a batch in the cure.
func begin(y *year) {
	y.batch++
	for i, p := range pieces {
		*y.shop.slabs[i] = *sim.NewSlab(p.Name, p.ThicknessMM, p.GreenG, 4, belly)
		y.shop.slabs[i].Move(y.shop.alder, sim.Bagged())
	}
	y.say(process.Command{Kind: process.CommandNew, New: &process.NewBatch{Plan: y.plan, Pieces: pieces, Probes: y.shop.placed()}})
	y.say(process.Command{Kind: process.CommandDosed, Dosing: &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us",
		Portions: []process.DosePortion{{Pieces: []string{"A"}, CureG: 5.6}, {Pieces: []string{"B"}, CureG: 5.8}}}})
}

// cook takes the batch through the smoker into the other fridge, and starts the next.
func (y *year) cook(at func(time.Duration, func(*year))) {
	stage := func(name process.StageName) { y.say(process.Command{Kind: process.CommandStage, Stage: name}) }
	at(7*time.Hour, func(y *year) { stage(process.StageRinse) })
	at(7*time.Hour+20*time.Minute, func(y *year) { stage(process.StageDry) })
	at(cookAt-30*time.Minute, func(y *year) {
		y.shop.kettle.Light()
		y.shop.kettle.Set(cookC)
	})
	at(cookAt, func(y *year) {
		for _, slab := range y.shop.slabs {
			slab.Move(y.shop.kettle, sim.Racked())
		}
		stage(process.StageCook)
	})
	lid := cookAt + 90*time.Minute + y.upTo(time.Hour)
	at(lid, func(y *year) { y.shop.kettle.Lid(true) })
	at(lid+2*time.Minute+y.upTo(3*time.Minute), func(y *year) { y.shop.kettle.Lid(false) })
	at(cookAt+cookFor, chill)
	at(23*time.Hour+30*time.Minute, func(y *year) {
		y.say(process.Command{Kind: process.CommandClose, Text: "chilled and packed"})
		begin(y)
	})
}

// chill brings the batch from the smoker into the other fridge, if that was not done.
func chill(y *year) {
	for _, b := range y.House.Open() {
		if !b.Stage().Heat {
			return
		}
	}
	y.shop.kettle.Quench()
	for _, slab := range y.shop.slabs {
		slab.Move(y.shop.birch, sim.Racked())
	}
	y.say(process.Command{Kind: process.CommandStage, Stage: process.StageChill})
}

// done reports whether a person would take the batch off: every core has had ten
// minutes over the target of the cook.
func (y *year) done() bool {
	if y.shop.out || y.shop.stuck != nil || len(y.shop.silent) > 0 {
		return false // nobody knows
	}
	for _, b := range y.House.Open() {
		if b.Stage().Name != process.StageCook || y.Now.Sub(b.StageEntered()) < time.Hour {
			return false
		}
		for _, slab := range y.shop.slabs {
			if slab.Core() < b.Stage().CoreC+1 {
				return false
			}
		}
	}
	return true
}

const (
	cookAt  = 8 * time.Hour
	cookFor = 10 * time.Hour
)

// faultToday spreads the faults evenly over the nights after the first two.
func (y *year) faultToday(n int) bool {
	n -= 2
	nights := y.Nights - 2
	return n >= 0 && (n+1)*y.Faults/nights > n*y.Faults/nights
}

// breakDown lets something break, now and then of every kind.
func (y *year) breakDown(at func(time.Duration, func(*year)), cooking bool) {
	var able []kind
	for _, k := range kinds() {
		if k.cook == cooking {
			able = append(able, k)
		}
	}
	k := able[y.shop.random.IntN(len(able))]
	begins := k.after + cookAt + y.upTo(10*time.Minute)
	if !k.cook {
		begins = 2*time.Hour + y.upTo(10*time.Hour)
	}
	at(begins, func(y *year) {
		k.breaks(y.shop)
		y.faults = append(y.faults, Fault{Kind: k.name, At: y.Now, Mended: y.Now.Add(k.lasts), kind: k})
	})
	at(begins+k.lasts, func(y *year) { k.mends(y.shop) })
}
