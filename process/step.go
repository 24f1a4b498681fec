package process

import (
	"slices"
	"time"

	"flitch/ingest/signal"
)

// Step applies one entry of the input log to the batch and appends to found what
// the alarm machine should look at. The batch is changed in place; nothing is
// allocated for a reading that closes no gap and starts nothing new.
//
// Inputs must come in the order of the log. Readings that are older than the
// last one of their probe, and events typed after readings that followed them,
// set NeedsRecount instead of bending the sums, and so do imported ones.
func Step(b *Batch, in Input, found []Finding) []Finding {
	if !b.Open() { // its clocks stand
		if in.Kind == InputCommand && TakesClosed(in.Command.Kind) {
			b.apply(in.Command)
		}
		return found
	}
	if in.At.After(b.Now) {
		b.Now = in.At
	}
	if in.Kind == InputReading && in.Reading.IsImported() {
		b.takeImported(in.Reading)
		return found
	}
	if in.Kind == InputReading {
		return b.reading(in.Reading, found)
	}
	if in.Kind == InputCommand && in.Command.Strikes != "" {
		b.NeedsRecount = true // what counts then is InForce
		return found
	}
	b.closeMinutes(in.EventTime())
	if in.Kind == InputCommand {
		b.apply(in.Command)
		return b.findAll(found)
	}
	return b.findKeep(b.findDryAir(b.findCureLeft(b.findHot(b.findAll(found)))))
}

// Start makes the batch that a checked CommandNew describes.
func Start(in Input) *Batch { return newBatch(in.Command) }

func (b *Batch) reading(r Reading, found []Finding) []Finding {
	t := b.track(r.Probe)
	if t == nil || !b.Open() || t.Probe.Placement == Core && b.packedAfterHeat(r.Measured) {
		return found
	}
	b.closeMinutes(r.Measured)
	one := judge(r, t.Probe.Placement) // as sent: what is a code or a jump is so of what was sent
	r = Calibrated(t.Checks, r)
	if r.Reason == OutOfUse {
		t.strike(signal.OutOfUse, one.At, one.At, 1)
		return found
	}
	if one.fault == 0 {
		t.Absent = t.Absent.over(r, t.Probe.allowed())
	}
	if one.fault == 0 && t.Sieve.passed(one.Sample) {
		t.Samples++
		t.hear(r.heard(t.Probe.allowed()))
		b.NeedsRecount = true
		return found
	}
	if entered := b.Stages[len(b.Stages)-1].Entered; r.Measured.Before(entered) && !entered.After(b.Now) {
		b.NeedsRecount = true // it was on its way when the stage was entered, and is the one before's
	}
	news, refused := t.Sieve.take(one, t.Probe, b.rateLimit(t))
	for _, s := range refused {
		b.reject(t, s)
	}
	counted := false
	for _, s := range news {
		s.Sample = calibrated(t.Checks, s.Sample)
		counted = b.believe(t, s) || counted
	}
	if n := len(refused); (n == 0 || !refused[n-1].At.Equal(one.At)) && t.Doubt != signal.AboveAir {
		t.hear(r.heard(t.Probe.allowed()))
	}
	if r.stale(t.Probe.allowed()) {
		return found
	}
	return b.findReading(t, counted, found)
}

// believe gives a sample that stands by itself to what the batch knows of its
// neighbours, and counts it. It reports whether the sample was the meat's, as far as
// anybody can tell by now.
func (b *Batch) believe(t *Track, s judged) bool {
	fault := b.doubtful(t, s)
	if fault == 0 || fault == signal.AboveAir { // the watch of a core has to see a probe that was pulled
		b.fold(t, s.Sample)
	}
	if fault != 0 && !t.away() {
		b.leaveOut(t, s.Sample, fault)
		return false
	}
	t.Samples++
	t.Doubt = 0
	if b.withheld(t, s) {
		return true
	}
	believedNow(t.Flagged, false)
	b.advance(t, s.Sample)
	if s.run.N == 1 {
		t.Still.keep(t)
	}
	return true
}

// reject counts a reading that is no measurement, and notes it.
func (b *Batch) reject(t *Track, r refusal) {
	t.Bad++
	t.Flagged = flag(t.Flagged, r.fault, r.At, r.At, 1)
	b.noteSpike(t, r.At, r.why)
}

// advance counts a sample of a track.
func (b *Batch) advance(t *Track, s Sample) {
	if seg, ok := t.advance(s); ok {
		b.count(t, seg)
	} else if t.Probe.Placement == Core && b.heated(s.At) {
		b.heatOff(t)
	}
	b.weighScale(t, s)
}

// count adds a segment to every sum of the track.
func (b *Batch) count(t *Track, seg segment) {
	if t.Probe.Placement == Core && !b.heated(seg.to) {
		return
	}
	b.split(seg, func(s span) {
		switch {
		case !t.speaksIn(s.stage) && t.Probe.Placement != Core:
		case t.Probe.Placement == Product, t.Probe.Placement == Air:
			t.Cure.add(s, b.Plan.Cure)
			t.Cold.add(s, b.Plan.Cold, t.Uncertainty())
			if b.heated(seg.to) {
				t.Hold.add(s, b.models(), t.Uncertainty())
			}
		case t.Probe.Placement == Chamber:
			t.Hottest = max(t.Hottest, s.v1, s.v2)
			b.Plan.Ferment.ferment(&t.Ferment, s, t.Uncertainty())
		case t.Probe.Placement == WetBulb, t.Probe.Placement == Humidity:
			b.moist(t, s)
		case t.Probe.Placement == Core:
			t.Lethal.add(s, b.Plan.Lethality.Table, t.Uncertainty())
			t.Kills.add(s, t.Uncertainty())
			t.ComeUp.add(s, b.Plan.ComeUp, t.Uncertainty(), t.Lethal.met())
			t.Grown.add(s, b.models(), t.Uncertainty(), t.Lethal.met())
			for i := range t.Legs {
				t.Legs[i].add(s, t.Uncertainty())
			}
		}
	})
}

// apply takes a command that Check has let through.
func (b *Batch) apply(c Command) {
	switch c.Kind {
	case CommandStage:
		b.enter(c.Stage, c)
		b.NeedsRecount = b.NeedsRecount || b.countedAfter(c.At) || // and those counted since were counted in it
			slices.ContainsFunc(b.Counts, func(n Count) bool { return n.At.After(c.At) })
	case CommandTurned:
		b.Turns = append(b.Turns, Turn{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, Pieces: c.Pieces})
		b.sortTurns()
	case CommandDosed:
		b.dosed(c)
	case CommandChecked:
		b.checkedProbe(c)
	case CommandCounted:
		b.counted(c)
	case CommandWeighed:
		b.weighed(c)
	case CommandReading:
		if c.Placement == PH {
			b.NeedsRecount = b.NeedsRecount || b.countedAfter(c.At)
			b.fermented(c.Value)
		}
		b.Hand = append(b.Hand, HandEntry{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, Placement: c.Placement,
			Piece: pieceOf(c), Value: c.Value, Text: c.Text})
	case CommandUnit:
		b.answerUnit(c)
	case CommandSensor:
		b.said(*c.Sensor, c.At)
	case CommandFault:
		b.clockSaid(*c.Clock)
	case CommandTasted:
		b.tasted(c)
	case CommandCost:
		b.costed(c)
	case CommandNote:
		b.Notes = append(b.Notes, NoteEntry{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, Text: c.Text, Photo: c.Photo})
	case CommandAction:
		b.actionTaken(c)
	case CommandDisposition:
		b.disposed(c)
	case CommandReviewed:
		b.reviewed(c)
	case CommandClose:
		b.NeedsRecount = b.NeedsRecount || b.countedAfter(c.At)
		b.Stages[len(b.Stages)-1].Left = c.At
		b.Closed, b.End = c.At, Ending{Typed: c.Typed, By: c.By, Why: c.Text}
	}
}

func pieceOf(c Command) string {
	if len(c.Pieces) == 0 {
		return ""
	}
	return c.Pieces[0]
}

// sortTurns moves the newest turn to its place by the time it happened.
func (b *Batch) sortTurns() {
	for i := len(b.Turns) - 1; i > 0 && b.Turns[i].At.Before(b.Turns[i-1].At); i-- {
		b.Turns[i], b.Turns[i-1] = b.Turns[i-1], b.Turns[i]
	}
}

// countedAfter reports whether any sum already holds time after at, so that a
// stage entered at that time changes what was counted.
func (b *Batch) countedAfter(at time.Time) bool {
	for _, t := range b.Tracks {
		if t.Last.At.After(at) {
			return true
		}
	}
	return false
}
