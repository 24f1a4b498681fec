package app

import (
	"slices"
	"testing"
	"time"

	"flitch/process"
)

const (
	minute = time.Minute
	hour   = time.Hour

	raw    = "belly-dry-cured"
	cooked = "belly-dry-cured-fully-cooked"
)

func (s *shop) wantHeard(want ...string) {
	s.t.Helper()
	if got := s.phone.heard(); !slices.Equal(got, want) {
		s.t.Errorf("%s: the phone heard %q, want %q", s.clock.Now().Format("15:04"), got, want)
	}
}

// The charcoal is out at three in the night: one ring, the rest folded behind it.
func TestFireOutRingsOnce(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	core := 20.0
	s.every(minute, 0, 60*minute, func(time.Duration) {
		core += 0.4
		s.read("chamber", 80)
		s.read("core", core)
	})
	s.wantHeard()
	chamber := 80.0
	s.every(minute, 61*minute, 85*minute, func(time.Duration) {
		chamber -= 2.5
		core -= 0.05
		s.read("chamber", chamber)
		s.read("core", core)
	})
	s.wantHeard("H3 raised ring")
	s.every(minute, 86*minute, 130*minute, func(time.Duration) { // the core falls too: H5 hides behind H3
		s.read("chamber", 20)
		s.read("core", core)
	})
	s.wantHeard("H3 repeated ring", "H3 repeated ring", "H3 repeated ring")
	number, standing, err := s.app.Alarm("H3")
	if err != nil || !standing {
		t.Fatalf("no H3 standing: %v", err)
	}
	s.must(process.Command{Kind: process.CommandAcknowledge, Alarm: number, By: "M.O."})
	s.every(minute, 131*minute, 140*minute, func(time.Duration) {
		s.read("chamber", 20)
		s.read("core", core)
	})
	s.wantHeard()                                                       // somebody is on it
	s.every(minute, 141*minute, 170*minute, func(after time.Duration) { // relit
		s.read("chamber", min(80, 20+(after-140*minute).Minutes()*5))
		core += 0.3
		s.read("core", core)
	})
	s.wantHeard("H3 cleared tell")
}

// The fridge's board dies at night. First a word, then a ring; two readings end it.
func TestSilentFridge(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3.1") })
	s.every(minute, 11*minute, 39*minute, func(time.Duration) { s.say("shop/spare", "3.1") })
	s.wantHeard()
	s.every(minute, 40*minute, 129*minute, func(time.Duration) { s.say("shop/spare", "3.1") })
	s.wantHeard("B2 raised tell", "B2 repeated tell")
	s.every(minute, 130*minute, 131*minute, func(time.Duration) { s.say("shop/spare", "3.1") })
	s.wantHeard("B2 worsened ring")
	s.every(minute, 132*minute, 150*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3.1") })
	s.wantHeard("B2 cleared tell")
}

// A sentinel and rubbish never raise C2 and never clear it.
func TestInvalidSamplesNeitherRaiseNorClear(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	rubbish := func() {
		for _, payload := range []string{``, `nan`, `unavailable`, `{"x":1}`, `{"v":-127.0}`, `{"v":85.0}`, `{"v":1e308}`, "\xff\xfe", `{"v":null}`} {
			s.say("shop/slow", payload)
		}
	}
	s.every(minute, 0, 30*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3"); rubbish() })
	s.wantHeard()
	s.every(minute, 31*minute, 55*minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
	s.wantHeard("C2 raised ring") // C1, the milder of the two, is due at 30 min and hides behind it
	s.every(minute, 56*minute, 67*minute, func(time.Duration) { rubbish(); s.say("shop/spare", "9") })
	s.wantHeard("C2 repeated ring") // nothing believable came, so nothing ended
	if b := s.batch(); b.Tracks[0].Bad == 0 {
		t.Error("no bad sample was counted: the test tests nothing")
	}
	rejections, err := s.app.db.Rejections(1000)
	if err != nil || len(rejections) < 31*5 {
		t.Errorf("%d messages kept as unusable, %v", len(rejections), err)
	}
}

// A board wakes in 1970 and in next year: both times are kept, neither is used.
func TestDeviceClocksThatCannotBeBelieved(t *testing.T) {
	s := newShop(t)
	s.open()
	s.at(hour)
	for _, device := range []string{"1970-01-01T00:02:00Z", "2032-05-05T07:00:00Z"} {
		s.say("shop/slow", `{"t":"`+device+`","v":3.5}`)
	}
	var got []process.Reading
	err := s.app.db.EachReading([]string{"slow"}, dawn, time.Time{}, func(_ int64, r process.Reading) error {
		got = append(got, r)
		return nil
	})
	if err != nil || len(got) != 2 {
		t.Fatalf("%d readings, %v", len(got), err)
	}
	for _, r := range got {
		if r.Quality != process.Suspect || r.Measured.Sub(dawn.Add(hour)).Abs() > time.Second || r.Device.IsZero() || r.Reason == "" {
			t.Errorf("stored as %+v", r)
		}
	}
}

// Readings that a device stored and sends later change the record and ring nobody.
func TestLateReadingsChangeTheVerdictAndRingNobody(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(5*minute, 0, hour, func(time.Duration) { s.read("slow", 3) })
	s.every(5*minute, 65*minute, 6*hour, func(time.Duration) { s.say("shop/spare", "3.0") }) // the slow probe is off the air
	s.phone.heard()                                                                          // B2, of course
	s.at(6*hour + minute)
	for after := hour + 5*minute; after <= 6*hour; after += 5 * minute { // and now tells what it saw
		s.say("shop/slow", `{"t":"`+dawn.Add(after).Format(time.RFC3339)+`","v":9.0}`)
	}
	s.at(6*hour + 2*minute)
	if got := s.clockOf(process.ClockCold); got.Sum < 290 || got.Verdict != process.NotMet {
		t.Errorf("out-of-cold clock %+v", got)
	}
	for _, h := range s.phone.heard() {
		if h[:2] == "C2" || h[:2] == "C1" {
			t.Errorf("late data rang: %s", h)
		}
	}
}
