package process

import (
	"slices"
	"time"
)

// Stage returns the plan of the stage the batch is in.
func (b *Batch) Stage() StagePlan {
	return b.Plan.stage(b.Stages[len(b.Stages)-1].Name)
}

// StageEntered returns when the present stage was entered.
func (b *Batch) StageEntered() time.Time { return b.Stages[len(b.Stages)-1].Entered }

// NextStages returns the stages that may come next: the following one, and the
// ones behind it as long as those between are optional.
func (b *Batch) NextStages() []StageName {
	var next []StageName
	for _, s := range b.Plan.Stages[b.Plan.index(b.Stage().Name)+1:] {
		next = append(next, s.Name)
		if !s.Optional {
			break
		}
	}
	return next
}

func (p Plan) index(name StageName) int {
	for i, s := range p.Stages {
		if s.Name == name {
			return i
		}
	}
	return -1
}

func (p Plan) stage(name StageName) StagePlan {
	if i := p.index(name); i >= 0 {
		return p.Stages[i]
	}
	return StagePlan{}
}

// AroundHeat returns the stages before the first heat stage and those after the
// last one.
func (p Plan) AroundHeat() (before, after []StageName) {
	hot := false
	for _, s := range p.Stages {
		switch {
		case s.Heat:
			hot, after = true, nil
		case hot:
			after = append(after, s.Name)
		default:
			before = append(before, s.Name)
		}
	}
	return before, after
}

// enter leaves the present stage and enters the named one at c.At.
func (b *Batch) enter(name StageName, c Command) {
	if n := len(b.Stages); n > 0 {
		b.Stages[n-1].Left = c.At
	}
	if len(b.Stages) > 0 && b.Stage().Where != b.Plan.stage(name).Where {
		b.moved(c.At)
	}
	b.Stages = append(b.Stages, StageEntry{ID: c.ID, Name: name, Entered: c.At, Typed: c.Typed, By: c.By, Why: c.Text})
	b.Fire = Fire{}
	if b.heated(c.At) {
		b.watch()
		b.eachTrack(Core, b.heatOff)
	}
}

// heatLeft is when the newest heat stage was left, or passed by: a logger's file may
// tell of the chill alone. Zero during it.
func (b *Batch) heatLeft() time.Time {
	for i := len(b.Stages) - 1; i >= 0; i-- {
		if e := b.Stages[i]; b.Plan.stage(e.Name).Heat {
			return e.Left
		}
	}
	for _, e := range b.Stages {
		if b.Plan.hot(e.Name) {
			return e.Entered
		}
	}
	return time.Time{}
}

// fired reports whether the batch tells of a heat stage, and not only of what came after.
func (b *Batch) fired() bool {
	return slices.ContainsFunc(b.Stages, func(e StageEntry) bool { return b.Plan.stage(e.Name).Heat })
}

// hot reports whether a stage is the first heat stage of the plan or comes after it.
func (p Plan) hot(name StageName) bool {
	for _, s := range p.Stages {
		if s.Heat {
			return p.index(name) >= p.index(s.Name)
		}
	}
	return false
}

// Heated reports whether a heat stage was entered.
func (b *Batch) Heated() bool { return b.heated(b.Now) }

// heated reports whether a heat stage was ever entered before at, or one after it.
func (b *Batch) heated(at time.Time) bool {
	for _, s := range b.Stages {
		if s.Entered.After(at) {
			return false
		}
		if b.Plan.hot(s.Name) {
			return true
		}
	}
	return false
}

// A span is a part of a segment that lies within one stage.
type span struct {
	segment
	stage StagePlan
	index int // of the stage in Batch.Stages
}

// split calls do for each part of s that lies within one stage. Parts before the
// batch started are left out.
func (b *Batch) split(s segment, do func(span)) {
	for i := range b.Stages {
		e := &b.Stages[i]
		if !e.Left.IsZero() && !e.Left.After(s.from) {
			continue
		}
		if e.Entered.After(s.to) {
			return
		}
		part := s
		if part.from.Before(e.Entered) {
			part = part.startingAt(e.Entered)
		}
		if !e.Left.IsZero() && e.Left.Before(part.to) {
			part = part.endingAt(e.Left)
		}
		if part.to.After(part.from) {
			do(span{part, b.Plan.stage(e.Name), i})
		}
	}
}

// cureStarted returns when the cure stage was entered, or the start of the batch
// when it has none.
func (b *Batch) cureStarted() time.Time {
	for _, s := range b.Stages {
		if s.Name == StageCure {
			return s.Entered
		}
	}
	return b.Started
}

// stageAt returns the stage the batch was in at a time; before it began, the first.
func (b *Batch) stageAt(at time.Time) StageName {
	name := b.Stages[0].Name
	for _, e := range b.Stages {
		if !e.Entered.After(at) {
			name = e.Name
		}
	}
	return name
}

// entry returns the last entry of the named stage.
func (b *Batch) entry(name StageName) (StageEntry, bool) {
	for i := len(b.Stages) - 1; i >= 0; i-- {
		if b.Stages[i].Name == name {
			return b.Stages[i], true
		}
	}
	return StageEntry{}, false
}

// Wanted returns from when to when the batch needs the track's probe: from the
// first stage it speaks for to the end of the last one; a core and the air of a
// room from the first fire on. to is zero while that stage is not over; ok is false before it began.
func (b *Batch) Wanted(t *Track) (from, to time.Time, ok bool) {
	for _, e := range b.Stages {
		stage := b.Plan.stage(e.Name)
		hot := t.Probe.Placement == Core || t.Probe.Placement == Ambient
		if !t.speaksIn(stage) || hot && !b.heated(e.Entered) {
			continue
		}
		if !ok {
			from, ok = e.Entered, true
		}
		to = e.Left
	}
	return from, to, ok
}
