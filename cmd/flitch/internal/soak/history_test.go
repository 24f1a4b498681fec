package soak

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"flitch/process"
	"flitch/store"
)

// A history makes the readings of probes as they come in over months: a value that swings
// slowly, with noise, in steps of a tenth; measured on the beat of its own clock, and received a
// little later.
type history struct {
	probes []string
	middle []float64 // °C
	every  time.Duration
	chance *rand.Rand
	swing  [4096]float64
	jitter [4096]time.Duration
	rows   []process.Reading
}

func newHistory(probes []string, middle []float64, every time.Duration) *history {
	h := &history{probes: probes, middle: middle, every: every, chance: rand.New(rand.NewPCG(31, 4))}
	for i := range h.swing {
		h.swing[i] = math.Sin(2*math.Pi*float64(i)/float64(len(h.swing))) + 0.08*h.chance.NormFloat64()
		h.jitter[i] = time.Duration(20+h.chance.ExpFloat64()*40) * time.Millisecond
	}
	return h
}

// at appends what all probes measure at one beat.
func (h *history) at(beat time.Time) {
	n := int(beat.Unix() / int64(max(h.every/time.Second, 1)))
	for i, probe := range h.probes {
		k := n*7 + i*397
		measured := beat.Add(time.Duration(i*83%900) * time.Millisecond)
		value := h.middle[i] + h.swing[k&4095] + 0.05*h.swing[(k*31)&4095]
		h.rows = append(h.rows, process.Reading{Probe: probe, Measured: measured, Device: measured,
			Received: measured.Add(h.jitter[(k*13)&4095]), Value: math.Round(value*10) / 10})
	}
}

// write stores every beat in [from, to), so many readings in a transaction, by the way the
// intake takes, and returns how many there were.
func (h *history) write(t testing.TB, db *store.DB, from, to time.Time, perCommit int) (n int) {
	t.Helper()
	flush := func() {
		if _, err := db.CommitIntake(h.rows, nil); err != nil {
			t.Fatal(err)
		}
		n += len(h.rows)
		h.rows = h.rows[:0]
	}
	for beat := from; beat.Before(to); beat = beat.Add(h.every) {
		h.at(beat)
		if len(h.rows) >= perCommit {
			flush()
		}
	}
	flush()
	return n
}

// live stores every beat in [from, to) as a daemon that runs does: minute by minute, with the
// minute told after it.
func (h *history) live(t testing.TB, db *store.DB, from, to time.Time) (n int) {
	t.Helper()
	for minute := from; minute.Before(to); minute = minute.Add(time.Minute) {
		end := minute.Add(time.Minute)
		n += h.write(t, db, minute, end, 1<<20)
		err := db.Update(func(tx *store.Tx) error {
			_, err := tx.AppendTick(end)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return n
}

// evaluatedSoFar sets the cursor of the engine to the end of the log: what was put in before
// was evaluated long ago.
func evaluatedSoFar(t testing.TB, db *store.DB) {
	t.Helper()
	last := db.LastSeq()
	if err := db.Update(func(tx *store.Tx) error { return tx.SavePlace("*", last, []byte("{}")) }); err != nil {
		t.Fatal(err)
	}
}
