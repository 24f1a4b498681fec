package app

import (
	"math"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

func (s *shop) glance() web.Glance {
	s.t.Helper()
	list, err := s.reader().Glances(s.patience())
	if err != nil || len(list) == 0 {
		s.t.Fatalf("%d batches, %v", len(list), err)
	}
	return list[0]
}

func (s *shop) reader() *reader { return &reader{app: s.app, site: s.app.site()} }

// A fridge and a smoker of which nothing was heard yet are there, and say so.
func TestWhatWasNotHeardYetIsNotLeftOut(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	if g := s.glance(); g.Fridge == nil || !strings.HasPrefix(g.Fridge.Place, "alder") || g.Fridge.Product.Known || !g.Fridge.TurnsWanted {
		t.Errorf("the fridge: %+v", g.Fridge)
	}
	s.enter(cooked, process.StageCook)
	if g := s.glance(); g.Chamber == nil || g.Chamber.Place != "kettle" || g.Chamber.Air.Known {
		t.Errorf("the smoker: %+v", g.Chamber)
	}
}

// Nothing that nobody sees is called fine: a fridge that falls silent asks for a look after
// five minutes, and is blind with B2 after thirty, each since its last reading.
func TestASilentFridgeIsNotFine(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("slow", 3) })
	if g := s.glance(); g.State != web.Fine || !strings.HasPrefix(g.Fridge.Place, "alder") {
		t.Errorf("heard: %s, %s", g.State, g.Why)
	}
	s.at(16 * minute)
	if g := s.glance(); g.State != web.Look || !strings.Contains(g.Why, "no reading of the fridge alder since") || !g.Since.Equal(dawn.Add(10*minute)) {
		t.Errorf("silent for six minutes: %s, %q, since %s", g.State, g.Why, g.Since)
	}
	s.every(minute, 17*minute, 42*minute, func(time.Duration) {})
	if g := s.glance(); g.State != web.Blind || !g.Since.Equal(dawn.Add(10*minute)) {
		t.Errorf("silent for 32 minutes: %s, %q, since %s", g.State, g.Why, g.Since)
	}
}

// What is overdue asks for a look, before any alarm of it.
func TestAnOverdueTurnIsALook(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	every := s.batch().Plan.Turn.EveryHours
	late := time.Duration(every*float64(time.Hour)) + minute
	s.at(late)
	s.read("slow", 3)
	s.settle()
	g := s.glance()
	for _, a := range g.Alarms {
		t.Logf("open: %s", a.Entry)
	}
	if g.State == web.Fine {
		t.Errorf("%s, %q", g.State, g.Why)
	}
}

// A batch whose limit was not met is not called fine before somebody has said what becomes
// of it, also when all alarms are over.
func TestAHeldBatchIsALookUntilItIsDecided(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("slow", 3) })
	s.must(process.Command{Kind: process.CommandStage, Stage: process.StageRinse, Text: "too early"})
	if g := s.glance(); g.State != web.Look || !strings.Contains(g.Why, "nobody has said what becomes of it: cure") || len(g.Alarms) > 0 {
		t.Errorf("%s, %q, %d alarms", g.State, g.Why, len(g.Alarms))
	}
	s.must(process.Command{Kind: process.CommandDisposition, Disposition: process.HoldForAdvice, Text: "asked R.K."})
	if g := s.glance(); g.State != web.Fine || len(g.Held) == 0 {
		t.Errorf("decided: %s, %q, held by %v", g.State, g.Why, g.Held)
	}
}

// The fridge's time over the line today begins at midnight on the wall.
func TestTodayBeginsAtMidnight(t *testing.T) {
	s := newShop(t)
	zone, err := time.LoadLocation("America/New_York") // midnight there is 04:00 UTC in May
	if err != nil {
		t.Fatal(err)
	}
	s.cfg.Site.Zone = zone
	s.open()
	s.begin(cooked)
	warm := func(after time.Duration) bool {
		return after >= 21*time.Hour+30*minute && after <= 22*time.Hour+30*minute // dawn is 06:00 UTC: half of it before midnight
	}
	s.every(5*minute, 20*time.Hour, 23*time.Hour, func(after time.Duration) {
		if warm(after) {
			s.read("slow", 5)
		} else {
			s.read("slow", 3)
		}
	})
	today := s.glance().Fridge.Today
	if today == nil || math.Abs(today.AboveMin-(30+1.4)) > 0.1 || today.BlindMin != 0 {
		t.Errorf("%+v, want half an hour and the 1.4 min of the way down", today)
	}
	if whole := s.glance().Fridge.AboveMin; math.Abs(whole-(60+2.8)) > 0.1 {
		t.Errorf("the batch has %g min", whole)
	}
}

// Wood is what somebody said; the newest word by when it happened counts.
func TestWoodIsWhatWasSaid(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	if w := s.glance().Wood; w == nil || !w.Last.IsZero() {
		t.Errorf("nobody said anything: %+v", w)
	}
	s.at(30 * minute)
	s.must(process.Command{Kind: process.CommandNote, Text: process.NoteWood + ", two splits", At: dawn.Add(20 * minute), Typed: dawn.Add(30 * minute)})
	s.must(process.Command{Kind: process.CommandNote, Text: "smells of beech", At: dawn.Add(30 * minute), Typed: dawn.Add(30 * minute)})
	if w := s.glance().Wood; w == nil || !w.Last.Equal(dawn.Add(20*minute)) || w.By != "T.V." {
		t.Errorf("%+v", w)
	}
}
