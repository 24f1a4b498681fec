package nights

import (
	"fmt"
	"time"

	"flitch/cmd/flitch/internal/playback"
	"flitch/process"
	"flitch/process/plans"
)

// A counter is the work beside the bellies: a ham that hangs in the loft all year, and
// in the other smoker cold smoke on two evenings of the week and jerky on two afternoons.
type counter struct {
	ham, jerky process.Plan
	begun      int
}

// Humidity of the loft, %, and the wet bulb of moist air in the hot smoker, °C.
const (
	loftRH   = 70.0
	loftLow  = 60.0
	loftHigh = 80.0
	steamC   = 54.0
	jerkyC   = 76.7 // chamber, as the plan has it
	smokeC   = 24.0 // chamber of the cold smoke
)

func newCounter() (c counter, err error) {
	if c.ham, err = plans.BuiltIn("country-ham"); err != nil {
		return c, fmt.Errorf("nights: %w", err)
	}
	if c.jerky, err = plans.BuiltIn("jerky"); err != nil {
		return c, fmt.Errorf("nights: %w", err)
	}
	c.ham, c.jerky = playback.AnyStage(c.ham), playback.AnyStage(c.jerky)
	c.ham.Drying.RHLow, c.ham.Drying.RHHigh = loftLow, loftHigh
	return c, nil
}

// beside begins a batch with probes of its own in a stage, and returns its name.
func (y *year) beside(plan process.Plan, stage process.StageName, probes ...string) string {
	y.counter.begun++
	id := fmt.Sprintf("BS-%03d", y.counter.begun)
	placed := make([]process.PlacedProbe, len(probes))
	for i, name := range probes {
		placed[i] = y.shop.probes[name].Placed
	}
	y.tell(process.Command{Kind: process.CommandNew, Batch: id, New: &process.NewBatch{
		Plan: plan, Pieces: []process.Piece{{Name: "A", GreenG: 3000, ThicknessMM: 80}}, Probes: placed}})
	y.tell(process.Command{Kind: process.CommandStage, Batch: id, Stage: stage})
	return id
}

// work plans what is done beside the bellies on a day.
func (y *year) work(n int, day time.Weekday, at func(time.Duration, func(*year))) {
	if n == 0 {
		at(2*time.Minute, func(y *year) { y.beside(y.counter.ham, process.StageStore, "loft-rh") })
	}
	switch day {
	case time.Monday, time.Thursday:
		y.aunt(at, smokeC, 18*time.Hour, 22*time.Hour, func(y *year) string {
			return y.beside(y.counter.ham, process.StageColdSmoke, "aunt-chamber")
		})
	case time.Tuesday, time.Friday:
		y.aunt(at, jerkyC, 13*time.Hour, 15*time.Hour+30*time.Minute, func(y *year) string {
			return y.beside(y.counter.jerky, process.StageCook, "aunt-chamber", "aunt-wet")
		})
	}
}

// aunt is one use of the other smoker, lit an hour before.
func (y *year) aunt(at func(time.Duration, func(*year)), setC float64, from, to time.Duration, begin func(*year) string) {
	id := ""
	at(from-time.Hour, func(y *year) { y.shop.aunt.Set(setC); y.shop.aunt.Light() })
	at(from, func(y *year) {
		y.shop.auntBoard(true)
		id = begin(y)
	})
	at(to, func(y *year) {
		y.tell(process.Command{Kind: process.CommandClose, Batch: id, Text: "done"})
		y.shop.aunt.Quench()
		y.shop.auntBoard(false)
	})
}

// wetBulb is that of the other smoker: it comes up with the chamber, to that of the
// steam; a dry sock makes it a second dry bulb.
func (s *shop) wetBulb() float64 {
	room, chamber := s.larder.Temp(), s.aunt.Chamber()
	if s.drySock {
		return chamber
	}
	return room + (s.steam-room)*(chamber-room)/(jerkyC-room)
}

func (s *shop) auntBoard(on bool) {
	for _, name := range []string{"aunt-chamber", "aunt-wet"} {
		if on {
			s.probes[name].Speak()
		} else {
			s.probes[name].Silence()
		}
	}
}
