package process

import (
	"time"

	"flitch/process/heat"
)

const (
	chillFallK  = 1.1              // K in chillWindow that count as chilling, 2 °F (alarm table L1)
	chillWindow = 15 * time.Minute //
)

// findNoChill reports how long cooked meat has stood without chilling, minutes: out of
// the heat, in no rest that the plan gives a time, and its warmest core not falling, or
// falling as it does in the room.
func (b *Batch) findNoChill(found []Finding) []Finding {
	stage := b.Stage()
	resting := stage.Where == WhereRoom && b.Now.Sub(b.StageEntered()) < hoursOf(stage.Hours)
	applies := b.Open() && !stage.Heat && b.heated(b.Now) && b.Plan.Chill.Option != "" && b.warmestCore() != nil && !b.legsDone()
	warm := b.fresh(b.warmestCore())
	return b.reportOf(found, MeasureNoChill, b.legSubject(0), applies && !resting && stage.Where == WhereRoom, warm != nil, func() float64 {
		before, ok := warm.Recent.before(b.Now, chillWindow)
		if ok && warm.Last.Value <= before.Value-chillFallK && !b.coolsInTheRoom(warm) {
			return 0
		}
		return b.Now.Sub(b.StageEntered()).Minutes()
	})
}

// coolsInTheRoom reports whether a core falls as Newton has it in the air of the room,
// which is too warm ever to end its chill: in colder air its rate, reckoned with the
// room's, would grow. Somebody may have put it into the cold and not said so.
func (b *Batch) coolsInTheRoom(core *Track) bool {
	room := b.fresh(b.TrackOf(Ambient))
	if room == nil || len(core.Legs) == 0 {
		return false
	}
	air := room.Recent.curve(b.Now)
	return tooWarm(air, core.Legs[len(core.Legs)-1].ToC) && heat.FallsIn(core.Recent.curve(b.Now), air)
}

func (b *Batch) warmestCore() *Track {
	var warmest *Track
	b.eachTrack(Core, func(t *Track) {
		if t.Samples > 0 && (warmest == nil || t.Last.Value > warmest.Last.Value) {
			warmest = t
		}
	})
	return warmest
}

// legsDone reports whether every core has come through its chill.
func (b *Batch) legsDone() bool {
	done := true
	b.eachTrack(Core, func(t *Track) {
		for i := range t.Legs {
			done = done && (t.Samples == 0 || !t.Legs[i].End.IsZero())
		}
	})
	return done
}
