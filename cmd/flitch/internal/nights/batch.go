package nights

import (
	"time"

	"flitch/ingest/sim"
	"flitch/process"
)

// begin starts a batch in the cure.
func begin(y *year) {
	y.batch++
	for i, p := range pieces {
		*y.shop.slabs[i] = *sim.NewSlab(p.Name, p.ThicknessMM, p.GreenG, 4, belly)
		y.shop.slabs[i].Move(y.shop.alder, sim.Bagged())
	}
	_, probes := y.shop.placed()
	y.say(process.Command{Kind: process.CommandNew, New: &process.NewBatch{Plan: y.plan, Pieces: pieces, Probes: probes}})
	if !y.begins(atDose) {
		y.dose("", portion("A", doseA), portion("B", doseB))
	}
	from := y.Now
	y.later(24*time.Hour, func(y *year) { y.owe(dueReady, from) })
}

// cook takes the batch through the smoker into the other fridge, and starts the next.
func (y *year) cook(at func(time.Duration, func(*year))) {
	stage := func(name process.StageName) { y.say(process.Command{Kind: process.CommandStage, Stage: name}) }
	at(7*time.Hour, func(y *year) { y.shop.smokerBoard(true); stage(process.StageRinse) })
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
	at(lid, func(y *year) {
		y.shop.kettle.Lid(true)
		if b := y.current(); b.Stage().Name == process.StageCook {
			y.owe(dueLid, b.StageEntered())
		}
	})
	at(lid+2*time.Minute+y.upTo(3*time.Minute), func(y *year) { y.shop.kettle.Lid(false) })
	at(cookAt+cookFor, takeOff)
	at(23*time.Hour+30*time.Minute, func(y *year) {
		y.pack()
		y.shop.smokerBoard(false)
		begin(y)
	})
}

// Every third batch is kept in packs, and forgotten until its days are over.
const (
	keptOf  = 3
	keptFor = 8 * 24 * time.Hour
)

// pack ends the batch, or lets it lie in its packs.
func (y *year) pack() {
	if y.batch%keptOf > 0 {
		y.say(process.Command{Kind: process.CommandClose, Text: "chilled and packed"})
		return
	}
	y.say(process.Command{Kind: process.CommandStage, Stage: process.StagePack})
	id := y.batchID()
	warn := time.Duration((y.plan.Keep.Days - 3) * 24 * float64(time.Hour))
	y.later(warn, func(y *year) { y.owe(dueUse, y.Now) })
	y.later(keptFor, func(y *year) { y.tell(process.Command{Kind: process.CommandClose, Batch: id, Text: "thrown away"}) })
}

// takeOff is the end of the cook, unless nobody is there.
func takeOff(y *year) {
	if !y.away && !y.begins(atChill) {
		chill(y)
	}
}

// chill brings the batch into the other fridge, if that was not done.
func chill(y *year) {
	if name := y.current().Stage().Name; name != process.StageCook && name != process.StageRest {
		return
	}
	intoTheCold(y, y.shop.slabs)
}

// done reports whether a person would take the batch off: every core has had ten
// minutes over the target of the cook.
func (y *year) done() bool {
	if y.away || y.shop.out || len(y.shop.says)+len(y.shop.silent) > 0 {
		return false // nobody knows
	}
	b := y.current()
	if b == nil || b.Stage().Name != process.StageCook || y.Now.Sub(b.StageEntered()) < time.Hour {
		return false
	}
	for _, slab := range y.shop.slabs {
		if slab.Core() < b.Stage().CoreC+1 {
			return false
		}
	}
	return true
}

const (
	cookAt  = 8 * time.Hour
	cookFor = 10 * time.Hour
)

// intoTheRoom is the rest after the cook, in the larder.
func intoTheRoom(y *year) {
	y.shop.kettle.Quench()
	for _, slab := range y.shop.slabs {
		slab.Move(y.shop.larder, sim.Racked())
	}
	y.say(process.Command{Kind: process.CommandStage, Stage: process.StageRest})
}

// intoTheCold brings slabs into the other fridge, and counts them there.
func intoTheCold(y *year, slabs []*sim.Slab) {
	y.shop.kettle.Quench()
	for _, slab := range slabs {
		slab.Move(y.shop.birch, sim.Racked())
	}
	y.say(process.Command{Kind: process.CommandStage, Stage: process.StageChill})
	count(y, len(slabs))
}

func count(y *year, pieces int) {
	y.say(process.Command{Kind: process.CommandCounted, Value: float64(pieces)})
}

// turn turns the slabs in the evening, unless nobody thinks of it.
func turn(y *year) {
	if !y.forgetful {
		y.say(process.Command{Kind: process.CommandTurned})
	}
}
