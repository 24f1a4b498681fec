package nights

import "time"

// A kind of fault: what breaks, when it can, how it is mended, and what has to ring.
type kind struct {
	name   string
	cook   bool          // happens in a cook or in the chill after it, else in the cure
	after  time.Duration // in a cook, from its start
	lasts  time.Duration
	breaks func(*shop)
	mends  func(*shop)
	rings  []string // any of these, loudly enough
	within time.Duration
}

// kinds of faults. within is the time in which one of the alarms has to come: the
// delay of its line in the catalogue, and the time the world takes to get there. A
// stuck probe is told only while the chamber is hotter: an open lid hides it.
func kinds() []kind {
	return []kind{
		{name: "compressor dead", lasts: 8 * time.Hour, breaks: func(s *shop) { s.alder.Mains(false) }, mends: func(s *shop) { s.alder.Mains(true) },
			rings: []string{"C1", "C2", "C7"}, within: 5 * time.Hour},
		{name: "mains off", lasts: 5 * time.Hour, breaks: func(s *shop) { s.alder.Mains(false); s.mains = 0 }, mends: func(s *shop) { s.alder.Mains(true); s.mains = 1 },
			rings: []string{"B5"}, within: 10 * time.Minute},
		{name: "door ajar", lasts: 5 * time.Hour, breaks: func(s *shop) { s.alder.Door(0.04); s.door = 1 }, mends: func(s *shop) { s.alder.Door(0); s.door = 0 },
			rings: []string{"C6"}, within: 15 * time.Minute},
		{name: "door ajar, no switch", lasts: 8 * time.Hour, breaks: func(s *shop) { s.alder.Door(0.05) }, mends: func(s *shop) { s.alder.Door(0) },
			rings: []string{"C1", "C2"}, within: 5 * time.Hour},
		{name: "dial turned too warm", lasts: 10 * time.Hour, breaks: func(s *shop) { s.alder.Set(6.5) }, mends: func(s *shop) { s.alder.Set(2.5) },
			rings: []string{"C1", "C2"}, within: 6 * time.Hour},
		{name: "dial turned too cold", lasts: 14 * time.Hour, breaks: func(s *shop) { s.alder.Set(-3.5) }, mends: func(s *shop) { s.alder.Set(2.5) },
			rings: []string{"C4", "C5"}, within: 10 * time.Hour},
		{name: "fridge board dead", lasts: 4 * time.Hour, breaks: silence("alder-slow", "alder-air"), mends: speak,
			rings: []string{"B2"}, within: 45 * time.Minute},
		{name: "fire out", cook: true, after: 2 * time.Hour, lasts: 90 * time.Minute, breaks: func(s *shop) { s.kettle.Quench() }, mends: func(s *shop) { s.kettle.Light() },
			rings: []string{"H3", "H4"}, within: 55 * time.Minute},
		{name: "probe pulled", cook: true, after: 2*time.Hour + 20*time.Minute, lasts: time.Hour, breaks: func(s *shop) { s.out = true }, mends: func(s *shop) { s.out = false },
			rings: []string{"H10", "H11"}, within: 10 * time.Minute},
		{name: "core probe stuck", cook: true, after: 2 * time.Hour, lasts: 2 * time.Hour, breaks: func(s *shop) { v := float64(int(s.slabs[0].Core()*10)) / 10; s.stuck = &v },
			mends: func(s *shop) { s.stuck = nil }, rings: []string{"B3"}, within: 45 * time.Minute},
		{name: "core probe silent", cook: true, after: 100 * time.Minute, lasts: time.Hour, breaks: silence("core-a"), mends: speak,
			rings: []string{"B1"}, within: 10 * time.Minute},
		{name: "chamber probe silent", cook: true, after: 100 * time.Minute, lasts: time.Hour, breaks: silence("kettle-chamber"), mends: speak,
			rings: []string{"B1"}, within: 10 * time.Minute},
		{name: "flames", cook: true, after: 2 * time.Hour, lasts: 20 * time.Minute, breaks: func(s *shop) { s.kettle.Set(400); s.kettle.Power = 900 },
			mends: func(s *shop) { s.kettle.Set(cookC); s.kettle.Power = 190 },
			rings: []string{"H1"}, within: 25 * time.Minute},
	}
}

func silence(names ...string) func(*shop) {
	return func(s *shop) {
		for _, name := range names {
			s.silent[name] = true
		}
	}
}

func speak(s *shop) { clear(s.silent) }

// A Fault is one that happened.
type Fault struct {
	Kind   string        `json:"kind"`
	At     time.Time     `json:"at"`
	Mended time.Time     `json:"mended"`
	Alarm  string        `json:"alarm,omitempty"` // the first that came of those asked for; empty: missed
	After  time.Duration `json:"after_ns"`
	kind   kind
}
