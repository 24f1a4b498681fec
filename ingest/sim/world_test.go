package sim

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

func wholeStory(seed uint64) []byte {
	var all bytes.Buffer
	for step := range NewStory(seed).Steps() {
		for _, s := range step.Samples {
			all.WriteString(s.Topic + " " + s.At.Format(time.RFC3339) + " ")
			all.Write(s.Payload)
			all.WriteByte('\n')
		}
		for _, c := range step.Commands {
			all.WriteString(string(c.Kind) + c.By + string(c.Stage) + c.Text + "\n")
		}
	}
	return all.Bytes()
}

func TestSameSeedSameBytes(t *testing.T) {
	one, two, other := wholeStory(1), wholeStory(1), wholeStory(2)
	if !bytes.Equal(one, two) {
		t.Error("two runs with one seed differ")
	}
	if bytes.Equal(one, other) {
		t.Error("two seeds give the same noise")
	}
}

// However the time is cut, the same samples come out.
func TestAdvanceInPiecesIsAdvanceAtOnce(t *testing.T) {
	run := func(cut func() time.Duration) []Sample {
		s := newShop(clock(8, 6, 0), 5)
		s.kettle.Set(80)
		s.kettle.Light()
		s.speak()
		end := clock(8, 9, 0)
		for at := s.Now(); at.Before(end); at = at.Add(cut()) {
			s.Advance(at)
		}
		s.Advance(end)
		return s.Samples()
	}
	whole := run(func() time.Duration { return 24 * time.Hour })
	rng := rand.New(rand.NewPCG(1, 2))
	pieces := run(func() time.Duration { return time.Duration(1 + rng.Int64N(int64(3*time.Minute))) })
	if len(whole) == 0 || len(whole) != len(pieces) {
		t.Fatalf("%d samples at once, %d in pieces", len(whole), len(pieces))
	}
	for i := range whole {
		if whole[i].Topic != pieces[i].Topic || !bytes.Equal(whole[i].Payload, pieces[i].Payload) || !whole[i].At.Equal(pieces[i].At) {
			t.Fatalf("sample %d: %s at once, %s in pieces", i, whole[i].Payload, pieces[i].Payload)
		}
	}
}

func TestWorldDoesNotRunBackwards(t *testing.T) {
	s := newShop(clock(0, 9, 0), 1)
	s.Advance(clock(0, 10, 0))
	s.Samples()
	s.Advance(clock(0, 9, 30))
	if !s.Now().Equal(clock(0, 10, 0)) || len(s.Samples()) != 0 {
		t.Error("the world went back")
	}
}

func TestProbePayloads(t *testing.T) {
	at := time.Date(2031, 7, 14, 11, 30, 0, 0, time.FixedZone("", 7200))
	for _, c := range []struct {
		shape Shape
		unit  Unit
		value float64
		want  string
	}{
		{Bare, Celsius, 3.449, "3.4"},
		{Bare, Celsius, -0.04, "0.0"},
		{Bare, Celsius, -1.26, "-1.3"},
		{Bare, Fahrenheit, 100, "212.0"},
		{Object, Celsius, 56.78, `{"time":"2031-07-14T09:30:00Z","temperature":56.8}`},
		{Object, Fahrenheit, -40, `{"time":"2031-07-14T09:30:00Z","temperature":-40.0}`},
	} {
		p := &Probe{Shape: c.shape, Unit: c.unit, Reads: func() float64 { return c.value }}
		p.start(1)
		if got := string(p.sample(at).Payload); got != c.want {
			t.Errorf("%v %s %s: %s, want %s", c.value, c.unit, c.shape, got, c.want)
		}
	}
}

func TestProbeIntervalIsWholeTicks(t *testing.T) {
	w := NewWorld(clock(0, 0, 0), 1)
	for _, ask := range []time.Duration{0, -time.Hour, time.Second, 25 * time.Second} {
		p := &Probe{Placed: process.PlacedProbe{Interval: ask}, Reads: func() float64 { return 1 }}
		w.AddProbe(p)
		if p.Placed.Interval < tick || p.Placed.Interval%tick != 0 || p.Placed.Interval < ask {
			t.Errorf("asked for %v, got %v", ask, p.Placed.Interval)
		}
	}
	w.Advance(clock(0, 0, 1))
	if n := len(w.Samples()); n != 6+6+6+2 {
		t.Errorf("%d samples in a minute", n)
	}
}

// A probe that has drifted reads off by as much, and everything around it is as before.
func TestProbeIsOff(t *testing.T) {
	w := NewWorld(clock(0, 0, 0), 1)
	for _, off := range []float64{0, -1.3} {
		w.AddProbe(&Probe{Placed: process.PlacedProbe{Interval: time.Minute}, Shape: Bare, Off: off, Reads: func() float64 { return 3 }})
	}
	w.Advance(clock(0, 0, 1))
	if said := w.Samples(); len(said) != 2 || string(said[0].Payload) != "3.0" || string(said[1].Payload) != "1.7" {
		t.Errorf("said %s", said)
	}
}

type broker struct {
	took int
	fail int
}

func (b *broker) Publish(context.Context, string, []byte) error {
	if b.took++; b.took == b.fail {
		return errors.New("no route")
	}
	return nil
}

func TestPublishStopsAtTheFirstFailure(t *testing.T) {
	samples := []Sample{{Topic: "a"}, {Topic: "b"}, {Topic: "c"}}
	b := &broker{fail: 2}
	err := Publish(t.Context(), b, samples)
	if err == nil || !strings.Contains(err.Error(), "to b") || b.took != 2 {
		t.Errorf("took %d, %v", b.took, err)
	}
	b = &broker{}
	if err := Publish(t.Context(), b, samples); err != nil || b.took != 3 {
		t.Errorf("took %d, %v", b.took, err)
	}
}
