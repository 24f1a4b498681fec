package app

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/process"
)

// listShop is a shop whose slow probe sends lists of readings.
func listShop(t *testing.T) *shop {
	s := newShop(t)
	s.cfg.Probes[0].Payload = config.Payload{Topic: "shop/slow", List: true, Each: "/readings", Value: "/v", Time: "/ts", TimeFormat: "unix", Unit: "C"}
	s.open()
	s.begin(raw)
	return s
}

// list is a message with the readings of those times after dawn.
func list(times []time.Duration, value func(after time.Duration) float64) string {
	var all []string
	for _, after := range times {
		all = append(all, fmt.Sprintf(`{"ts":%d,"v":%.2f}`, dawn.Add(after).Unix(), value(after)))
	}
	return `{"readings":[` + strings.Join(all, ",") + `]}`
}

// warmAtNoon is a fridge that is warm for three hours.
func warmAtNoon(after time.Duration) float64 {
	if after >= 2*hour && after < 5*hour {
		return 9
	}
	return 3
}

// A probe was off the air for five hours, in which the fridge was warm, and then sends
// what it stored: in pieces, in any order, some of it twice, some of it after newer
// readings. The record is the same as if all had come in time, and nobody is rung.
func TestStoredReadingsInAnyOrderChangeTheRecordAndRingNobody(t *testing.T) {
	var times []time.Duration
	for after := time.Duration(0); after <= 8*hour; after += 5 * minute {
		times = append(times, after)
	}
	live := listShop(t)
	live.every(5*minute, 0, 8*hour, func(after time.Duration) {
		live.say("shop/spare", "3.1")
		live.say("shop/slow", list([]time.Duration{after}, warmAtNoon))
	})
	if heard := strings.Join(live.phone.heard(), ", "); !strings.Contains(heard, "C2 raised ring") {
		t.Fatalf("the fridge that was seen warm rang nobody: %s", heard)
	}
	want := live.clockOf(process.ClockCold)
	if want.Verdict != process.NotMet {
		t.Fatalf("a fridge warm for three hours: %+v", want)
	}

	late := listShop(t)
	late.every(5*minute, 0, hour, func(after time.Duration) {
		late.say("shop/spare", "3.1")
		late.say("shop/slow", list([]time.Duration{after}, warmAtNoon))
	})
	late.every(5*minute, 65*minute, 6*hour, func(time.Duration) { late.say("shop/spare", "3.1") })
	if heard := late.phone.heard(); !slices.Contains(heard, "B2 worsened ring") {
		t.Fatalf("nobody was told of the silence: %q", heard)
	}
	// It is back with live readings, and hands over the rest when it can.
	late.every(5*minute, 6*hour+5*minute, 6*hour+30*minute, func(after time.Duration) {
		late.say("shop/spare", "3.1")
		late.say("shop/slow", list([]time.Duration{after}, warmAtNoon))
	})
	if got := late.clockOf(process.ClockCold); got.Verdict == process.NotMet {
		t.Fatalf("known before it was told: %+v", got)
	}
	late.phone.heard()
	stored := times[13:73] // 1:05 to 6:00
	rand.New(rand.NewPCG(7, 7)).Shuffle(len(stored), func(i, j int) { stored[i], stored[j] = stored[j], stored[i] })
	for chunk := range slices.Chunk(stored, 7) {
		late.say("shop/slow", list(chunk, warmAtNoon))
		late.say("shop/slow", list(chunk[:3], warmAtNoon)) // some twice
	}
	late.every(5*minute, 6*hour+35*minute, 8*hour, func(after time.Duration) {
		late.say("shop/spare", "3.1")
		late.say("shop/slow", list([]time.Duration{after}, warmAtNoon))
	})
	for _, h := range late.phone.heard() {
		if strings.HasPrefix(h, "C") || strings.HasSuffix(h, " ring") {
			t.Errorf("stored readings rang: %s", h)
		}
	}
	if got := late.clockOf(process.ClockCold); got.Sum != want.Sum || got.Verdict != want.Verdict {
		t.Errorf("out-of-cold clock %+v, want %+v", got, want)
	}
	a, b := late.batch().Tracks[0], live.batch().Tracks[0]
	if a.Samples != b.Samples || a.GapCount != b.GapCount || a.Bad != b.Bad {
		t.Errorf("%d samples, %d gaps, %d bad, want %d, %d, %d", a.Samples, a.GapCount, a.Bad, b.Samples, b.GapCount, b.Bad)
	}
	if got, want := series(late), series(live); !slices.Equal(got, want) {
		t.Errorf("stored %d readings, want %d, or others", len(got), len(want))
	}
}

// series is what is stored of the slow probe, without what says when it came.
func series(s *shop) (all []string) {
	err := s.app.db.EachReading([]string{"slow"}, dawn, time.Time{}, func(_ int64, r process.Reading) error {
		all = append(all, fmt.Sprint(r.Measured, r.Value))
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return all
}

// A list whose newest reading is fresh is how some probes always send: it rings as any
// other, and not for what is old in it.
func TestTheFreshEndOfAListRings(t *testing.T) {
	s := listShop(t)
	warm := func(after time.Duration) float64 {
		if after > 30*minute {
			return 9
		}
		return 3
	}
	s.every(5*minute, 5*minute, 60*minute, func(after time.Duration) {
		s.say("shop/spare", "3.1")
		s.say("shop/slow", list([]time.Duration{after - 4*minute, after - 2*minute, after}, warm))
	})
	if heard := s.phone.heard(); !slices.Equal(heard, []string{"C2 raised ring"}) {
		t.Errorf("the phone heard %q", heard)
	}
}

// Old readings that come again and again, as copies do that a broker kept, are no sign
// that the probe measures.
func TestOldReadingsDoNotEndASilence(t *testing.T) {
	s := listShop(t)
	s.every(5*minute, 0, hour, func(after time.Duration) {
		s.say("shop/spare", "3.1")
		s.say("shop/slow", list([]time.Duration{after}, warmAtNoon))
	})
	s.every(5*minute, 65*minute, 4*hour, func(after time.Duration) {
		s.say("shop/spare", "3.1")
		s.say("shop/slow", list([]time.Duration{after - 2*hour + minute}, warmAtNoon)) // two hours old, and new
	})
	if heard := s.phone.heard(); !slices.Contains(heard, "B2 worsened ring") || slices.ContainsFunc(heard, func(h string) bool { return strings.HasPrefix(h, "C") }) {
		t.Errorf("the phone heard %q", heard)
	}
}
