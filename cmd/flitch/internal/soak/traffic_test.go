package soak

import (
	"context"
	"math/rand/v2"
	"sync/atomic"
	"time"

	"flitch/ingest/mqtt"
)

// A tally counts what a run did to the daemon, and what it found wrong.
type tally struct {
	acked      atomic.Int64 // good readings that were acknowledged
	rubbish    atomic.Int64 // payloads nobody can use
	reconnects atomic.Int64 // of a sensor
	streams    atomic.Int64 // that were dropped
	asked      atomic.Int64 // pages, pictures, figures, interface
	batches    atomic.Int64 // begun and closed
	rings      atomic.Int64 // messages at the phone
	answers    atomic.Int64 // given by the link in one
	failed     atomic.Int64 // requests that were not answered as they should
	why        atomic.Value // string: the last of failed
}

func (y *tally) fail(why string) {
	y.failed.Add(1)
	y.why.Store(why)
}

// injected is how many readings and disturbances the run put in.
func (y *tally) injected() float64 {
	return float64(y.acked.Load() + y.rubbish.Load() + y.reconnects.Load() + y.streams.Load())
}

// A pace is how fast things happen; a short run has to have some of each.
type pace struct {
	lasts time.Duration
	stage time.Duration // from one stage of the batch to the next
	alarm time.Duration // from one alarm to the next; it stands for a third of it
	stays time.Duration // of a sensor on one connection, about
	look  time.Duration // from one measurement to the next
}

func paceOf(lasts time.Duration) pace {
	bounded := func(d, least, most time.Duration) time.Duration { return min(max(d, least), most) }
	return pace{lasts: lasts, stage: bounded(lasts/40, 500*time.Millisecond, 10*time.Second), alarm: bounded(lasts/2, 36*time.Second, 4*time.Minute),
		stays: bounded(lasts/4, 5*time.Second, 2*time.Minute), look: bounded(lasts/400, 250*time.Millisecond, 5*time.Second)}
}

// rubbish are payloads that a broken device sends.
var rubbish = []string{`{"t":"warm","at":1}`, `{"t":`, `nan`, ``, `{"t":1e999,"at":0}`, `[]`, `{"at":12}`, "\xff\xfe\x00"}

// publish is a sensor: a reading a second, now and then rubbish, and from time to time
// it goes away and comes back under the same name. It returns when ctx ends.
func (s sensor) publish(ctx context.Context, broker string, p pace, y *tally) {
	began := time.Now()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for ctx.Err() == nil {
		out, err := mqtt.NewPublisher(ctx, mqtt.Config{URL: "tcp://" + broker, ClientID: s.name})
		if err != nil {
			return // ctx ended
		}
		stays, leave := context.WithTimeout(ctx, p.stays/2+rand.N(p.stays))
		for stays.Err() == nil {
			s.say(ctx, out, began, p, y)
			select {
			case <-tick.C:
			case <-stays.Done():
			}
		}
		leave()
		out.Close()
		y.reconnects.Add(1)
	}
}

func (s sensor) say(ctx context.Context, out *mqtt.Publisher, began time.Time, p pace, y *tally) {
	now := time.Now()
	since := now.Sub(began)
	if rand.IntN(30) == 0 {
		if err := <-out.Publish(ctx, s.topic(), []byte(rubbish[rand.IntN(len(rubbish))]), 1); err == nil {
			y.rubbish.Add(1)
		}
	}
	warm := since%p.alarm > p.alarm*2/3
	if err := <-out.Publish(ctx, s.topic(), payload(s.value(since, warm), now), 1); err == nil {
		y.acked.Add(1)
	}
}
