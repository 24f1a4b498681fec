package app

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/evidence"
)

// Stopping in the middle loses nothing and changes nothing: same clocks, same
// alarms, same numbers as a run without a stop.
func TestARestartChangesNothing(t *testing.T) {
	t.Parallel()
	play := func(restarts int) (clocks []process.Clock, heard []string, journal int) {
		s := newShop(t)
		s.open()
		s.begin(cooked)
		s.enter(cooked, process.StageCook)
		parts := restarts + 1
		for part := range parts {
			if part > 0 {
				s.close()
				s.open()
			}
			from, to := time.Duration(part)*240*minute/time.Duration(parts), time.Duration(part+1)*240*minute/time.Duration(parts)-minute
			s.every(minute, from, to, func(after time.Duration) {
				s.read("chamber", 80)
				s.read("core", 70-60*math.Exp(-after.Hours()/1.5))
			})
		}
		heard = s.phone.heard()
		lines, err := s.app.db.Journal("")
		if err != nil {
			t.Fatal(err)
		}
		lines = slices.DeleteFunc(lines, func(l process.JournalLine) bool { return l.Kind == evidence.SealKind }) // a stop makes one more
		clocks = s.batch().Clocks(s.clock.Now())
		if err := s.app.db.VerifyJournal(); err != nil {
			t.Error(err)
		}
		s.close()
		return clocks, heard, len(lines)
	}
	clocks, heard, journal := play(0)
	again, heardAgain, journalAgain := play(5)
	if len(heard) == 0 {
		t.Fatal("nothing rang: the test tests nothing")
	}
	if strings.Join(heard, ";") != strings.Join(heardAgain, ";") || journal != journalAgain {
		t.Errorf("without a stop the phone heard %q (%d lines), with five %q (%d lines)", heard, journal, heardAgain, journalAgain)
	}
	for i, c := range clocks {
		if a := again[i]; a.Verdict != c.Verdict || math.Abs(a.Sum-c.Sum) > 1e-9 {
			t.Errorf("%s: %v %q without a stop, %v %q with five", c.Name, c.Sum, c.Verdict, a.Sum, a.Verdict)
		}
	}
}

// Who was silent while flitch was off is told of by the start itself, and not by the minute
// after it: it may have been killed at the very minute that it had to tell.
func TestAStartTellsTheTimeAtOnce(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("slow", 3) })
	s.close()
	s.clock.Step(dawn.Add(3 * hour)) // on the minute
	s.open()
	s.settle()
	if heard := s.phone.heard(); !slices.Contains(heard, "B2 raised ring") {
		t.Errorf("the phone heard %q, want B2 at once", heard)
	}
}

func TestASecondDaemonIsRefused(t *testing.T) {
	s := newShop(t)
	s.open()
	second := *s.cfg
	if _, err := New(&second, Options{Clock: s.clock, Log: s.app.log}); err == nil || !strings.Contains(err.Error(), "another flitch runs") {
		t.Errorf("got %v", err)
	}
}

// The answer to a command is lost and it is sent again: it is taken once.
func TestACommandSentTwiceIsTakenOnce(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	for range 3 {
		s.must(process.Command{ID: "the-same", Kind: process.CommandStage, Stage: process.StageRinse})
	}
	if b := s.batch(); len(b.Stages) != 2 {
		t.Errorf("stages %+v", b.Stages)
	}
}

func TestCommandsThatCannotBeDoneChangeNothing(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	before, err := s.app.db.Counts()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []process.Command{
		{Kind: process.CommandTurned, Batch: "OL-99"},
		{Kind: process.CommandStage, Stage: process.StageChill},
		{Kind: process.CommandNew, Batch: "PS-02", New: &process.NewBatch{}},
		{Kind: process.CommandNew, Batch: "PS-03", New: &process.NewBatch{Plan: s.batch().Plan, Pieces: []process.Piece{{Name: "A", GreenG: -1, ThicknessMM: 38}}}},
		{Kind: process.CommandAcknowledge, Alarm: 77},
		{Kind: process.CommandNote},
	} {
		err := s.try(c)
		if refusal, ok := errors.AsType[*process.Refusal](err); !ok || refusal.What == "" {
			t.Errorf("%s: got %v, want a refusal", c.Kind, err)
		}
	}
	after, err := s.app.db.Counts()
	if err != nil || after.Commands != before.Commands || after.JournalLines != before.JournalLines {
		t.Errorf("before %+v, after %+v, %v", before, after, err)
	}
}

func TestRequestsForABatchAreResolvedByName(t *testing.T) {
	s := newShop(t)
	pieces := []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}
	got, err := resolve(s.cfg, Request{Plan: raw, Pieces: pieces, Fridge: "alder", Smoker: "kettle"})
	if err != nil || len(got.Probes) != 4 {
		t.Fatalf("%d probes, %v", len(got.Probes), err)
	}
	for _, p := range got.Probes {
		if p.Placement == process.Core && p.Piece != "A" {
			t.Errorf("core probe in piece %q", p.Piece)
		}
	}
	for _, bad := range []struct {
		r    Request
		want string
	}{
		{Request{Plan: "brisket", Pieces: pieces}, "the plans are"},
		{Request{Plan: raw, Pieces: pieces, Fridge: "oak"}, "say alder"},
		{Request{Plan: raw, Pieces: pieces, Smoker: "alder"}, "say kettle"},
		{Request{Plan: raw, Pieces: pieces, Cores: map[string]string{"slow": "A"}}, "the core probes are core"},
	} {
		if _, err := resolve(s.cfg, bad.r); err == nil || !strings.Contains(err.Error(), bad.want) {
			t.Errorf("%+v: got %v, want %q", bad.r, err, bad.want)
		}
	}
}
