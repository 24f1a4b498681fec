package store

import (
	"fmt"
	"math"
	"reflect"
	"sync"
	"testing"
	"time"

	"flitch/process"
)

func command(id, batch string) process.Command {
	return process.Command{ID: id, Kind: process.CommandTurned, Batch: batch, By: "ok", At: noon.Add(-time.Hour), Typed: noon,
		Pieces: []string{"A", "B"}, Text: "turned <both> & \"drained\""}
}

func appendCommand(t testing.TB, db *DB, c process.Command, at time.Time) (seq int64, fresh bool) {
	t.Helper()
	update(t, db, func(tx *Tx) (err error) {
		seq, fresh, err = tx.AppendCommand(c, at)
		return err
	})
	return seq, fresh
}

func appendTick(t testing.TB, db *DB, at time.Time) (seq int64) {
	t.Helper()
	update(t, db, func(tx *Tx) (err error) {
		seq, err = tx.AppendTick(at)
		return err
	})
	return seq
}

// fillLog puts every kind of input into the log and returns what it should hold.
func fillLog(t testing.TB, db *DB) []process.Input {
	t.Helper()
	after := func(s int) time.Time { return noon.Add(time.Duration(s)*time.Second + 40*time.Millisecond) }
	commit(t, db, plain("core", 1), plain("air", 2))
	appendCommand(t, db, command("c-1", "OL-1"), after(3))
	appendTick(t, db, after(4))
	commit(t, db, plain("core", 5))
	appendCommand(t, db, command("c-2", "OL-2"), after(6))
	appendCommand(t, db, command("c-3", "OL-1"), after(7))
	return []process.Input{
		{Seq: 1, Kind: process.InputReading, At: after(1), Reading: plain("core", 1)},
		{Seq: 2, Kind: process.InputReading, At: after(2), Reading: plain("air", 2)},
		{Seq: 3, Kind: process.InputCommand, At: after(3), Command: command("c-1", "OL-1")},
		{Seq: 4, Kind: process.InputTick, At: after(4)},
		{Seq: 5, Kind: process.InputReading, At: after(5), Reading: plain("core", 5)},
		{Seq: 6, Kind: process.InputCommand, At: after(6), Command: command("c-2", "OL-2")},
		{Seq: 7, Kind: process.InputCommand, At: after(7), Command: command("c-3", "OL-1")},
	}
}

func TestLogIsOneSequence(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	want := fillLog(t, db)
	check := func(when string) {
		t.Helper()
		if got := inputs(t, db); !reflect.DeepEqual(got, want) {
			t.Errorf("%s:\n got %+v\nwant %+v", when, got, want)
		}
		for after := range int64(9) {
			for limit := range 9 {
				got := must[[]process.Input](t)(db.NextInputs(after, limit))
				from := min(int(after), len(want))
				if part := want[from:min(from+limit, len(want))]; len(got) != len(part) || len(got) > 0 && !reflect.DeepEqual(got, part) {
					t.Errorf("%s: after %d limit %d: %d inputs, want %d", when, after, limit, len(got), len(part))
				}
			}
		}
	}
	check("at once")
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = open(t, path)
	check("after reopening")
	if seq := appendTick(t, db, noon.Add(time.Hour)); seq != 8 {
		t.Errorf("next number after reopening is %d, want 8", seq)
	}
	if got := must[[]process.Input](t)(db.Commands("OL-1")); !reflect.DeepEqual(got, []process.Input{want[2], want[6]}) {
		t.Errorf("commands of OL-1: %+v", got)
	}
	if got := must[[]process.Input](t)(db.Commands("nobody")); len(got) != 0 {
		t.Errorf("commands of nobody: %+v", got)
	}
}

func TestCommandComesBackWhole(t *testing.T) {
	db := newDB(t)
	c := command("n-1", "OL-1")
	c.Kind, c.New = process.CommandNew, &process.NewBatch{
		Plan:   process.Plan{Name: "belly", Version: 3, Stages: []process.StagePlan{{Name: process.StageCure, Hours: 168}}},
		Pieces: []process.Piece{{Name: "A", GreenG: 2350.5, ThicknessMM: 38}},
		Probes: []process.PlacedProbe{{Probe: "core-1", Placement: process.Core, Interval: 5 * time.Second}},
	}
	appendCommand(t, db, c, noon)
	if got := inputs(t, db)[0].Command; !reflect.DeepEqual(got, c) {
		t.Errorf("got  %+v\nwant %+v", got, c)
	}
}

func TestCommandSentTwiceIsTakenOnce(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	appendTick(t, db, noon)
	c := command("c-1", "OL-1")
	if seq, fresh := appendCommand(t, db, c, noon); seq != 2 || !fresh {
		t.Errorf("first: %d, %v, want 2, fresh", seq, fresh)
	}
	c.Text = "something else"
	if seq, fresh := appendCommand(t, db, c, noon); seq != 2 || fresh {
		t.Errorf("again: %d, %v, want 2, not fresh", seq, fresh)
	}
	db.Close()
	db = open(t, path)
	for id, want := range map[string]bool{"c-1": true, "c-2": false} {
		if has := must[bool](t)(db.HasCommand(id)); has != want {
			t.Errorf("HasCommand(%s) = %v", id, has)
		}
	}
	if seq, fresh := appendCommand(t, db, c, noon); seq != 2 || fresh || db.LastSeq() != 2 {
		t.Errorf("after reopening: %d, %v, last %d, want 2, not fresh, last 2", seq, fresh, db.LastSeq())
	}
	if got := inputs(t, db); len(got) != 2 || got[1].Command.Text != command("", "").Text {
		t.Errorf("log holds %+v", got)
	}
}

func TestCommandThatCannotBeStored(t *testing.T) {
	db := newDB(t)
	nan := command("c-1", "OL-1")
	nan.Value = math.NaN() // JSON has no word for it
	for name, c := range map[string]process.Command{"no ID": command("", "OL-1"), "NaN": nan} {
		err := db.Update(func(tx *Tx) error {
			_, _, err := tx.AppendCommand(c, noon)
			return err
		})
		if err == nil || db.LastSeq() != 0 || len(inputs(t, db)) != 0 {
			t.Errorf("%s: %v, last number %d", name, err, db.LastSeq())
		}
	}
}

// TestLogTimeNeverRunsBackwards sets the wall clock back and forth between inputs,
// over a restart.
func TestLogTimeNeverRunsBackwards(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	want := []time.Duration{}
	step := func(at, taken time.Duration, tick bool) {
		t.Helper()
		if tick {
			update(t, db, func(tx *Tx) error {
				if got := tx.TakenAt(noon.Add(at)); !got.Equal(noon.Add(taken)) {
					t.Errorf("TakenAt(%v) = %v, want %v", at, got.Sub(noon), taken)
				}
				_, err := tx.AppendTick(noon.Add(at))
				return err
			})
		} else {
			commit(t, db, process.Reading{Probe: "core", Measured: noon.Add(at), Received: noon.Add(at)})
		}
		want = append(want, taken)
	}
	step(10*time.Minute, 10*time.Minute, false)
	step(9*time.Minute, 10*time.Minute, true)
	step(8*time.Minute, 10*time.Minute, false)
	db.Close()
	db = open(t, path)
	step(5*time.Minute, 10*time.Minute, true)
	step(7*time.Minute, 10*time.Minute, false)
	step(11*time.Minute, 11*time.Minute, false)
	step(12*time.Minute, 12*time.Minute, true)
	step(time.Minute, 12*time.Minute, false)
	db.Close()
	db = open(t, path)
	step(2*time.Minute, 12*time.Minute, true)
	for i, in := range inputs(t, db) {
		if got := in.At.Sub(noon); got != want[i] {
			t.Errorf("input %d taken at %v, want %v", i+1, got, want[i])
		}
		if in.Kind == process.InputReading && !in.Reading.Received.Equal(in.Reading.Measured) {
			t.Errorf("input %d: received %v was changed", i+1, in.Reading.Received)
		}
	}
}

// TestFollowerMissesNothing follows the log from its own cursor, as the engine
// does, while two others write: it must see every number that exists, in order.
func TestFollowerMissesNothing(t *testing.T) {
	db := newDB(t)
	const rounds = 150
	var writers sync.WaitGroup
	done := make(chan struct{})
	writers.Go(func() {
		for i := range rounds {
			if _, err := db.CommitIntake(plains(i*3, 3), nil); err != nil {
				t.Error(err)
			}
		}
	})
	writers.Go(func() {
		for i := range rounds {
			err := db.Update(func(tx *Tx) error {
				_, _, err := tx.AppendCommand(command(fmt.Sprint(i), "OL-1"), noon)
				return err
			})
			if err != nil {
				t.Error(err)
			}
		}
	})
	go func() { writers.Wait(); close(done) }()

	seen, cursor := 0, int64(0)
	follow := func() {
		page := must[[]process.Input](t)(db.NextInputs(cursor, 7))
		for _, in := range page {
			if in.Seq != cursor+1 {
				t.Fatalf("number %d after %d", in.Seq, cursor)
			}
			cursor, seen = in.Seq, seen+1
		}
	}
	for running := true; running; {
		select {
		case <-done:
			running = false
		default:
		}
		follow()
	}
	for before := -1; before != seen; {
		before = seen
		follow()
	}
	if seen != 4*rounds {
		t.Errorf("saw %d inputs, want %d", seen, 4*rounds)
	}
}
