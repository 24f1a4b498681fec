package engine

import (
	"maps"
	"sync/atomic"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// While the disk takes or gives nothing, evaluation goes on in a copy of the house: it
// sees what is heard and could not be stored, and what it finds rings past the database.
// Nothing of it is ever stored. When the disk is back the copy is thrown away: what was
// held is stored then, and the house takes it as it takes anything, at the times at which
// it was heard.

// memoryLook is how often a house that cannot read or write tries again, and tells its copy
// the time: proposal.
const memoryLook = 10 * time.Second

// heardMost bounds the groups of readings that wait to be evaluated in memory. Own bound.
const heardMost = 256

// A memory is the copy, and what leads to it.
type memory struct {
	heard  chan []process.Reading
	blind  atomic.Bool // what is stored cannot be evaluated either
	missed atomic.Int64
	house  *House // nil: the disk works
	above  int64  // alarms with a higher number are of the copy alone
	tick   time.Time
}

// Heard takes readings that were heard. Those that are on disk are evaluated from there,
// unless that cannot be done. It never blocks.
func (e *Engine) Heard(readings []process.Reading, stored bool) {
	if len(readings) == 0 || stored && !e.memory.blind.Load() {
		return
	}
	select {
	case e.memory.heard <- readings:
	default:
		e.memory.missed.Add(int64(len(readings)))
	}
}

// InMemory reports whether evaluation goes on in memory only.
func (e *Engine) InMemory() bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.memory.house != nil
}

// remember makes the copy.
func (e *Engine) remember() {
	if e.memory.house != nil {
		return
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	e.memory.house, e.memory.above = e.house.copied(), e.house.board.number
	e.memory.tick = e.Clock.Now()
	e.Log.Warn("the disk fails: evaluation goes on in memory, and is not stored")
}

// recall evaluates readings in the copy.
func (e *Engine) recall(readings []process.Reading) {
	e.remember()
	for i := range readings {
		e.memory.house.Take(process.Input{Kind: process.InputReading, Seq: e.cursor, At: readings[i].Received, Reading: readings[i]})
	}
	e.speak()
}

// passTime tells the copy what time it is, once a minute.
func (e *Engine) passTime() {
	now := e.Clock.Now().UTC()
	if e.memory.house == nil || now.Before(nextMinute(e.memory.tick)) {
		return
	}
	e.memory.tick = now
	e.memory.house.Take(process.Input{Kind: process.InputTick, Seq: e.cursor, At: now})
	e.speak()
}

// speak sends the rings that are due past the database. What can wait comes when it is
// stored; so does a number for alarms that are not.
func (e *Engine) speak() {
	house := e.memory.house
	said := house.pending.messages
	house.pending = newChange(e.cursor)
	clear(house.closed)
	e.tellUnstored(said, e.memory.above)
}

// tellUnstored hands rings on that cannot be stored. Above a number alarms have none yet.
func (e *Engine) tellUnstored(messages []alerts.Message, above int64) {
	if e.Unstored == nil {
		return
	}
	soon := e.Clock.Now().Add(time.Minute)
	for _, m := range messages {
		if m.Level < alerts.Ring || m.Due.After(soon) {
			continue
		}
		if m.Alarm > above {
			m.Alarm = 0
		}
		e.Unstored(m)
	}
}

// forget ends the copy once all that was heard is stored and evaluated.
func (e *Engine) forget() {
	if e.memory.house == nil || e.memory.blind.Load() || e.unwritten != nil || len(e.memory.heard) > 0 || e.Held != nil && e.Held() > 0 {
		return
	}
	e.mu.Lock()
	e.memory.house = nil
	e.mu.Unlock()
	e.Log.Info("the disk is back: evaluation is stored again", "not_evaluated", e.memory.missed.Swap(0))
}

// copied is the house as it stands, with nothing pending.
func (h *House) copied() *House {
	c := &House{policy: h.policy, seen: map[string]*process.Batch{}, closed: map[string]*process.Batch{}, faults: maps.Clone(h.faults), paths: maps.Clone(h.paths),
		ends: h.ends, board: h.board.copied(), judged: map[string]verdicts{}, people: *copyOf(&h.people), pending: newChange(h.pending.cursor)}
	for _, p := range h.places {
		c.places = append(c.places, p.Copy())
	}
	for _, b := range h.open {
		c.open = append(c.open, copyOf(b))
		c.judged[b.ID] = maps.Clone(h.judged[b.ID])
	}
	for id, b := range h.seen {
		c.seen[id] = copyOf(b)
	}
	return c
}

func (b *board) copied() *board {
	c := *b
	c.own = maps.Clone(b.own)
	c.alarms = make(map[alarmKey]*alerts.Alarm, len(b.alarms))
	for key, a := range b.alarms {
		c.alarms[key] = copyOf(a)
	}
	return &c
}
