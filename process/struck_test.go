package process

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A teller lets a batch be told with mistakes, as the engine does it, and keeps beside it
// what was said if the mistakes had never been made.
type teller struct {
	rt    *rapid.T
	batch *Batch
	log   []Input
	plain []Input            // never said otherwise
	was   map[string]Command // corrected, by the ID of what stands in its place
	typed map[string]Command // everything that was taken, by ID
	n     int
}

func (l *teller) take(in Input) {
	in.Seq = int64(len(l.log) + 1)
	l.log = append(l.log, in)
	Step(l.batch, in, nil)
	if in.Kind == InputReading || in.Command.Strikes == "" {
		l.plain = append(l.plain, in)
		return
	}
	now := l.batch.Now
	l.batch = l.recounted()
	l.batch.Now = now
}

// recounted is what the log comes to.
func (l *teller) recounted() *Batch {
	log := commandsFirst(l.log)
	i := slices.IndexFunc(log, func(in Input) bool { return in.Kind == InputReading })
	if i < 0 {
		i = len(log)
	}
	stands, struck := InForce(log[:i])
	b := Recount(stands[0], byEventTime(slices.Concat(stands[1:], log[i:])))
	b.Struck = struck
	return b
}

// commandsFirst is the order of a recount for what is of the same moment.
func commandsFirst(log []Input) []Input {
	out := slices.Clone(log)
	slices.SortStableFunc(out, func(a, b Input) int { return int(b.Kind) - int(a.Kind) })
	return out
}

// say says something of the batch if that can be said now.
func (l *teller) say(at time.Time, c Command) bool {
	l.n++
	c.ID, c.By, c.Batch, c.Typed = fmt.Sprintf("c%d", l.n), "T.V.", l.batch.ID, at
	if c.At.IsZero() {
		c.At = at
	}
	if Check(l.batch, c, at) != nil {
		return false
	}
	l.typed[c.ID] = c
	in := Input{Kind: InputCommand, At: at, Command: c}
	if c.Strikes != "" {
		i := slices.IndexFunc(l.plain, func(in Input) bool { return in.Command.ID == c.Strikes })
		in.Command.Strikes, in.Command.Why = "", ""
		switch old, corrected := l.was[c.Strikes]; {
		case c.Kind != CommandStruck:
			l.was[c.ID] = l.plain[i].Command
			l.plain[i] = in
		case corrected: // the correction was never said
			l.plain[i].Command = old
		default:
			l.plain = slices.Delete(l.plain, i, i+1)
		}
		in.Command = c
	}
	l.take(in)
	return true
}

func (l *teller) draw(low, high int, what string) int {
	return rapid.IntRange(low, high).Draw(l.rt, what)
}

// chance says something by chance: right, wrong, or that something was wrong.
func (l *teller) chance(at time.Time) {
	c := Command{Why: "it was the other batch"}
	switch l.draw(0, 9, "what") {
	case 0:
		c = Command{Kind: CommandTurned, Pieces: [][]string{nil, {"A"}}[l.draw(0, 1, "pieces")]}
	case 1:
		c = Command{Kind: CommandNote, Text: "bag not quite closed"}
	case 2:
		c = Command{Kind: CommandReading, Placement: []Placement{Core, PH}[l.draw(0, 1, "placement")], Value: float64(l.draw(3, 9, "value"))}
	case 3:
		c = Command{Kind: CommandWeighed, Pieces: []string{"A"}, Value: float64(l.draw(1500, 2500, "grams"))}
	case 4:
		c = Command{Kind: CommandCounted, Value: float64(l.draw(0, 3, "count"))}
	case 5:
		if next := l.batch.NextStages(); len(next) > 0 {
			c = Command{Kind: CommandStage, Stage: next[0]}
		}
	default:
		if len(l.typed) == 0 {
			return
		}
		ids := slices.Sorted(mapsKeysOf(l.typed))
		old := l.typed[ids[l.draw(max(0, len(ids)-6), len(ids)-1, "which")]]
		c.Strikes, c.Kind = old.ID, CommandStruck
		if old.Kind != CommandStruck && rapid.Bool().Draw(l.rt, "corrected") {
			c.Kind, c.Stage, c.Pieces, c.Placement, c.Text = old.Kind, old.Stage, old.Pieces, old.Placement, old.Text
			c.Value = old.Value
			if old.Kind == CommandReading || old.Kind == CommandCounted {
				c.Value = float64(l.draw(3, 9, "value"))
			}
			c.At = old.At.Add(time.Duration(l.draw(-30, 30, "minutes")) * time.Minute)
			if c.At.After(at) { // what is yet to come may be typed, and closes its minute too soon
				c.At = at
			}
		}
	}
	l.say(at, c)
}

func mapsKeysOf[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// A batch in which things were struck out and corrected is one in which they were never
// said, and said rightly; as it came, replayed from the log and recounted.
func TestStruckIsNeverSaid(t *testing.T) {
	struck, corrected := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		log := tale(rt)
		log = log[:min(len(log), 400)]
		l := &teller{rt: rt, batch: Start(log[0]), log: log[:1:1], was: map[string]Command{}, typed: map[string]Command{}}
		for _, in := range log[1:] {
			switch {
			case in.Kind == InputReading:
				l.take(in)
			case in.Command.Kind == CommandStage:
				l.say(in.At.Add(time.Second), Command{Kind: CommandStage, Stage: in.Command.Stage})
			}
			if l.draw(0, 3, "say") == 0 {
				l.chance(in.At.Add(2 * time.Second)) // a reading of the same moment would come after it in a recount
			}
		}
		for _, s := range l.batch.Struck {
			struck++
			if s.Instead {
				corrected++
			}
		}
		if l.batch.NeedsRecount { // something typed late, as ever
			l.batch = l.recounted()
		}
		want := Recount(log[0], byEventTime(commandsFirst(l.plain)))
		for name, b := range map[string]*Batch{"as it came": l.batch, "recounted": l.recounted()} {
			if x, y := b.Clocks(l.batch.Now), want.Clocks(l.batch.Now); !reflect.DeepEqual(x, y) {
				rt.Fatalf("%s:\n%+v\nnever said:\n%+v", name, x, y)
			}
			if x, y := entriesOf(b), entriesOf(want); x != y {
				rt.Fatalf("%s:\n%s\nnever said:\n%s", name, x, y)
			}
		}
		if x, y := l.recounted(), want; !same(x, y) {
			rt.Fatal("state differs from that of a batch in which it was never said")
		}
		if len(l.recounted().Struck) != len(l.batch.Struck) {
			rt.Fatal("a replay forgets what was struck out")
		}
	})
	if struck < 100 || corrected < 50 {
		t.Errorf("%d struck out, %d corrected: the test tests little", struck, corrected)
	}
}

func entriesOf(b *Batch) string {
	text, _ := json.MarshalIndent([]any{b.Stages, b.Turns, b.Hand, b.Counts, b.Notes}, "", " ")
	return string(text)
}

func same(x, y *Batch) bool {
	a, b := *x, *y
	a.Struck, b.Struck = nil, nil
	a.Now, b.Now = time.Time{}, time.Time{}
	s, _ := json.Marshal(a)
	t, _ := json.Marshal(b)
	return string(s) == string(t)
}

func TestStrikesThatAreRefused(t *testing.T) {
	d := newDiary(t)
	d.say(hour, Command{ID: "t1", Kind: CommandTurned})
	d.say(2*hour, Command{ID: "r", Kind: CommandStage, Stage: StageRinse})
	d.say(3*hour, Command{ID: "s", Kind: CommandStage, Stage: StageSmoke})
	d.batch.Struck = []Struck{{Was: Command{ID: "n0", Kind: CommandNote}, ID: "x", By: "M.O.", At: noon.Add(hour)}}
	for _, c := range []struct {
		name, want string
		c          Command
	}{
		{"nothing named", "nothing is named", Command{Kind: CommandStruck}},
		{"unknown", "under \"q\"", Command{Kind: CommandStruck, Strikes: "q"}},
		{"twice", "M.O. struck that out at", Command{Kind: CommandStruck, Strikes: "n0"}},
		{"corrected when struck", "enter it anew", Command{Kind: CommandNote, Text: "y", Strikes: "n0", Why: "x"}},
		{"no reason", "more than a minute ago", Command{Kind: CommandStruck, Strikes: "t1"}},
		{"blank reason", "more than a minute ago", Command{Kind: CommandStruck, Strikes: "t1", Why: " "}},
		{"long reason", "keep it under", Command{Kind: CommandStruck, Strikes: "t1", Why: strings.Repeat("x", 3000)}},
		{"the start", "close the batch", Command{Kind: CommandStruck, Strikes: "new", Why: "x"}},
		{"another kind", "cannot stand in the place", Command{Kind: CommandNote, Text: "x", Strikes: "t1", Why: "x"}},
		{"a stage that others follow", "strike out smoke first", Command{Kind: CommandStruck, Strikes: "r", Why: "x"}},
		{"a stage after the next", "name an earlier time", Command{Kind: CommandStage, Stage: StageRinse, Strikes: "r", Why: "x", At: noon.Add(4 * hour)}},
		{"a stage before the last", "name a later time", Command{Kind: CommandStage, Stage: StageRinse, Strikes: "r", Why: "x", At: noon.Add(-hour)}},
		{"a turn out of the cure", "not in cure", Command{Kind: CommandTurned, Strikes: "t1", Why: "x", At: noon.Add(150 * minute)}},
		{"a turn of no piece", "its pieces are A", Command{Kind: CommandTurned, Strikes: "t1", Why: "x", At: noon.Add(hour), Pieces: []string{"Q"}}},
	} {
		c.c.By = "T.V."
		if c.c.At.IsZero() {
			c.c.At = noon.Add(5 * hour)
		}
		d.batch.Started = noon.Add(-2 * hour)
		err := Check(d.batch, c.c, noon.Add(5*hour))
		var refusal *Refusal
		if !errors.As(err, &refusal) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want a refusal with %q", c.name, err, c.want)
		}
		if (c.name == "twice") != (refusal != nil && refusal.Already != nil) {
			t.Errorf("%s: already %+v", c.name, refusal)
		}
	}
	now := noon.Add(3*hour + time.Minute)
	for _, good := range []Command{
		{Kind: CommandStruck, Strikes: "s"}, // within the minute
		{Kind: CommandStruck, Strikes: "t1", Why: "it was OL-2"},
		{Kind: CommandTurned, Strikes: "t1", Why: "it was earlier", At: noon.Add(30 * minute)},
		{Kind: CommandStage, Stage: StageRinse, Strikes: "r", Why: "it was later", At: noon.Add(150 * minute)},
	} {
		good.By = "T.V."
		if good.At.IsZero() {
			good.At = now
		}
		if err := Check(d.batch, good, now); err != nil {
			t.Errorf("%+v: %v", good, err)
		}
	}
}

// Two people press one button: the second is told, and one entry stands.
func TestTwoThumbsMakeOneEntry(t *testing.T) {
	d := newDiary(t)
	d.batch.Pieces = append(d.batch.Pieces, Piece{Name: "B", GreenG: 2000, ThicknessMM: 35})
	d.say(hour, Command{ID: "t1", Kind: CommandTurned})
	check := func(after time.Duration, c Command) *Entered {
		c.By, c.At = "M.O.", noon.Add(after)
		var no *Refusal
		if err := Check(d.batch, c, c.At); !errors.As(err, &no) {
			return nil
		}
		return no.Already
	}
	for _, again := range []Command{{Kind: CommandTurned}, {Kind: CommandTurned, Pieces: []string{"A"}}} {
		if was := check(hour+time.Minute, again); was == nil || was.ID != "t1" || was.By != "T.V." || !was.At.Equal(noon.Add(hour)) {
			t.Errorf("turned %v a minute later: already %+v", again.Pieces, was)
		}
	}
	if check(hour+2*time.Minute, Command{Kind: CommandTurned}) != nil {
		t.Error("a turn two minutes later is one of its own")
	}
	d.say(2*hour, Command{ID: "t2", Kind: CommandTurned, Pieces: []string{"A"}})
	if check(2*hour+time.Minute, Command{Kind: CommandTurned}) != nil || check(2*hour+time.Minute, Command{Kind: CommandTurned, Pieces: []string{"B"}}) != nil {
		t.Error("B was not turned with A")
	}
	d.say(3*hour, Command{ID: "r", Kind: CommandStage, Stage: StageRinse})
	if was := check(3*hour+5*time.Minute, Command{Kind: CommandStage, Stage: StageRinse}); was == nil || was.ID != "r" {
		t.Errorf("the same stage: already %+v", was)
	}
	c := Command{Kind: CommandStage, Stage: StageRinse, By: "M.O.", At: noon.Add(150 * minute)}
	if err := Check(d.batch, c, noon.Add(4*hour)); err == nil || !strings.Contains(err.Error(), "--instead-of r") {
		t.Errorf("another time for the same stage: %v", err)
	}
}
