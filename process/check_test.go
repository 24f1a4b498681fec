package process

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestCommandsThatAreRefused(t *testing.T) {
	piece := func(p Piece) *NewBatch { return &NewBatch{Plan: testPlan(), Pieces: []Piece{p}} }
	cases := []struct {
		name string
		c    Command
		want string
	}{
		{"nobody signed", Command{Kind: CommandTurned, By: " "}, "initials"},
		{"the future", Command{Kind: CommandTurned, At: noon.Add(3 * hour)}, "has not happened yet"},
		{"before the batch", Command{Kind: CommandTurned, At: noon.Add(-hour)}, "before batch OL-1 began"},
		{"unknown stage", Command{Kind: CommandStage, Stage: "wash"}, "its stages are cure, rinse"},
		{"stage out of order", Command{Kind: CommandStage, Stage: StageChill}, "the next stage is rinse"},
		{"stage again", Command{Kind: CommandStage, Stage: StageCure}, "the next stage is rinse"},
		{"unknown piece", Command{Kind: CommandTurned, Pieces: []string{"Q"}}, "its pieces are A"},
		{"hand reading of a door", Command{Kind: CommandReading, Placement: Door}, "not a temperature"},
		{"hand reading NaN", Command{Kind: CommandReading, Placement: Core, Value: math.NaN()}, "cannot be"},
		{"hand reading in F without unit", Command{Kind: CommandReading, Placement: Core, Value: 1e308}, "cannot be"},
		{"empty note", Command{Kind: CommandNote, Text: "  "}, "empty"},
		{"long note", Command{Kind: CommandNote, Text: strings.Repeat("x", 3000)}, "3000"},
		{"close in the middle", Command{Kind: CommandClose}, "say why"},
		{"unknown command", Command{Kind: "bless"}, "not a command"},
		{"no plan", Command{Kind: CommandNew, Batch: "X"}, "no plan"},
		{"no pieces", Command{Kind: CommandNew, Batch: "X", New: &NewBatch{Plan: testPlan()}}, "no pieces"},
		{"negative weight", Command{Kind: CommandNew, Batch: "X", New: piece(Piece{Name: "A", GreenG: -5, ThicknessMM: 38})}, "weighs -5 g"},
		{"no thickness", Command{Kind: CommandNew, Batch: "X", New: piece(Piece{Name: "A", GreenG: 2268, ThicknessMM: 0})}, "0 mm thick"},
		{"NaN weight", Command{Kind: CommandNew, Batch: "X", New: piece(Piece{Name: "A", GreenG: math.NaN(), ThicknessMM: 38})}, "NaN"},
		{"a name that is a path", Command{Kind: CommandNew, Batch: "../x", New: piece(Piece{Name: "A", GreenG: 1, ThicknessMM: 1})}, "cannot be used"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d := newDiary(t)
			if c.c.By == "" {
				c.c.By = "T.V."
			}
			if c.c.At.IsZero() {
				c.c.At = noon
			}
			err := Check(d.batch, c.c, noon.Add(minute))
			var refusal *Refusal
			if !errors.As(err, &refusal) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want a refusal with %q", err, c.want)
			}
		})
	}
}

func TestOptionalStagesMayBeLeftOut(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.stage(s+hour, StageChill) // rest is optional
	if got := d.batch.Stage().Name; got != StageChill {
		t.Errorf("stage %s", got)
	}
}

func TestClosedBatchMovesNoMore(t *testing.T) {
	d := newDiary(t)
	d.say(hour, Command{Kind: CommandClose, Text: "given to M.O. as it is"})
	for _, c := range []Command{{Kind: CommandTurned}, {Kind: CommandStage, Stage: StageRinse}, {Kind: CommandReading, Placement: Core, Value: 60},
		{Kind: CommandWeighed, Value: 2000}, {Kind: CommandCounted, Value: 1}, {Kind: CommandClose}} {
		c.By, c.At = "M.O.", noon.Add(2*hour)
		if err := Check(d.batch, c, c.At); err == nil || !strings.Contains(err.Error(), "closed 2031-04-07T13:00:00Z by T.V.") {
			t.Errorf("%s of a closed batch: %v", c.Kind, err)
		}
	}
	before := d.batch.Tracks[0].Samples
	d.read("slow", 2*hour, 30)
	if d.batch.Tracks[0].Samples != before {
		t.Error("a closed batch took a reading")
	}
}

// A stage typed late counts from when it happened.
func TestStageTypedLateNeedsARecount(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, 6*day, 5*minute, 4, 4)
	c := Command{Kind: CommandStage, Stage: StageRinse, By: "T.V.", Batch: "OL-1", At: noon.Add(5 * day), Typed: noon.Add(6 * day)}
	if err := Check(d.batch, c, c.Typed); err != nil {
		t.Fatal(err)
	}
	d.take(Input{Kind: InputCommand, At: c.Typed, Command: c})
	if !d.batch.NeedsRecount {
		t.Fatal("a stage in the past leaves the sums as they were")
	}
	fresh := Recount(d.log[0], byEventTime(d.log[1:]))
	if got := fresh.Clocks(d.batch.Now)[0]; got.Sum < 4.99 || got.Sum > 5.01 || got.Verdict != Met {
		t.Errorf("cure clock %+v", got)
	}
}
