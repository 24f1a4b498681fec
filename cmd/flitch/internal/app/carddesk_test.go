package app

import (
	"testing"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// card is that of the newest alarm of the line.
func (s *shop) card(entry string) web.Cards {
	s.t.Helper()
	r := s.reader()
	alarms, err := r.Alarms(s.patience())
	if err != nil {
		s.t.Fatal(err)
	}
	for _, a := range alarms {
		if a.Entry == entry {
			c, err := r.cards(s.patience(), a)
			if err != nil {
				s.t.Fatal(err)
			}
			return c
		}
	}
	s.t.Fatalf("%s never rang", entry)
	return web.Cards{}
}

// A fire that goes out and is lit again: the card of its alarm has the times and what the
// core came to.
func TestTheCardOfALostFire(t *testing.T) {
	s := newShop(t)
	s.lostFire()
	c := s.card("H3")
	if c.Batch != "PS-02" || c.Off == nil || c.Stall != nil || c.Power != nil {
		t.Fatalf("%+v", c)
	}
	off := c.Off
	if !off.From.Seen || off.From.Latest.Before(dawn.Add(60*minute)) || off.From.Latest.After(dawn.Add(63*minute)) {
		t.Errorf("off from %+v", off.From)
	}
	if off.Until.Latest.Before(dawn.Add(110*minute)) || off.Until.Latest.After(dawn.Add(116*minute)) {
		t.Errorf("off until %+v", off.Until)
	}
	core := off.Cores[0]
	if core.AtOff == nil || core.AtOff.Value < 45 || core.Lowest == nil || core.Now == nil || core.Below == nil || core.Below.Minutes < 50 {
		t.Errorf("core %+v", core)
	}
}

// lostFire is an hour of a cook, a fire that is out for fifty minutes, and a little more.
func (s *shop) lostFire() {
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	s.every(minute, 0, 120*minute, func(after time.Duration) {
		m := after.Minutes()
		chamber, core := 80.0, 10+0.6*m
		switch {
		case m > 60 && m <= 110:
			chamber, core = max(25, 80-4*(m-60)), 46-0.02*(m-60)
		case m > 110:
			chamber, core = min(80, 25+14*(m-110)), 45+0.1*(m-110)
		}
		s.read("chamber", chamber)
		s.read("core", core)
	})
}

// A core that stands: the card of H5 judges by the gap.
func TestTheCardOfAStall(t *testing.T) {
	s := newShop(t)
	s.stalled()
	c := s.card("H5")
	if c.Stall == nil || c.Stall.GapK == nil || len(c.Stall.Rules) != 1 || c.Stall.Rules[0] != process.StallEvaporation {
		t.Fatalf("%+v, %+v", c, c.Stall)
	}
}

func (s *shop) stalled() {
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	s.every(minute, 0, 150*minute, func(after time.Duration) {
		s.read("chamber", 80)
		s.read("core", min(55, 10+0.6*after.Minutes())+0.1*float64(int(after.Minutes())%2))
	})
}

// A warm fridge: the card of C2 counts, and what nobody measures is not measured.
func TestTheCardOfAWarmFridge(t *testing.T) {
	s := newShop(t)
	s.warmed()
	c := s.card("C2")
	if c.Power == nil || c.Power.Mains || c.Power.Door || c.Power.By != process.Product || c.Power.Peak == nil || c.Power.Peak.Value < 8.9 || c.Power.Above[2].Minutes < 20 {
		t.Fatalf("%+v", c.Power)
	}
	if len(c.Batches) != 1 || c.Batches[0] != "PS-02" {
		t.Errorf("batches %v", c.Batches)
	}
}

func (s *shop) warmed() {
	s.open()
	s.begin(cooked)
	s.every(minute, 0, 60*minute, func(after time.Duration) {
		s.read("slow", min(9, 3+max(0, after.Minutes()-20)*0.5))
	})
}

// Alarms that no card is of, and one of a batch nobody knows.
func TestNoCardIsMadeUp(t *testing.T) {
	s := newShop(t)
	s.open()
	for _, entry := range []string{"K1", "H1", "B1", ""} {
		a := web.Alarm{}
		a.Entry, a.Subject = entry, "batch PS-02"
		if c, err := s.reader().cards(s.patience(), a); err != nil || c.Off != nil || c.Stall != nil || c.Power != nil {
			t.Errorf("%s: %+v, %v", entry, c, err)
		}
	}
	a := web.Alarm{}
	a.Entry, a.Subject = "C2", "fridge nowhere"
	if c, err := s.reader().cards(s.patience(), a); err != nil || c.Power != nil {
		t.Errorf("a fridge that is not there: %+v, %v", c, err)
	}
}
