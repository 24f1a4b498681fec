package outbox

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
)

// Open adds a channel, also while the outbox runs: what is stored for it goes out
// from now on. No channel of its name may be open.
func (o *Outbox) Open(c Channel) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if _, double := o.lanes[c.Name()]; double {
		return fmt.Errorf("outbox: two channels are named %q", c.Name())
	}
	l := &lane{
		store: o.store, clock: o.clock, channel: c, Options: o.Options,
		random:    rand.New(rand.NewPCG(o.Seed, uint64(o.opened))),
		wake:      make(chan struct{}, 1),
		down:      true,
		unsettled: map[int64]ending{},
		late:      map[int64]bool{},
	}
	o.opened++
	o.lanes[c.Name()] = l
	if o.run != nil {
		o.start(l)
	}
	return nil
}

// Shut takes a channel out. A send under way is cut off; when Shut returns,
// nothing more goes out through the channel, and what is stored for it stays. A
// channel must not shut itself from its own Send or Failed.
func (o *Outbox) Shut(name string) {
	o.mu.Lock()
	l, ok := o.lanes[name]
	delete(o.lanes, name)
	o.mu.Unlock()
	if ok && l.stop != nil {
		l.stop()
		<-l.done
	}
}

// Names lists the open channels in the order of the alphabet.
func (o *Outbox) Names() (names []string) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for name := range o.lanes {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// start runs a lane until the outbox stops or the lane is shut. The lock is held.
func (o *Outbox) start(l *lane) {
	ctx, stop := context.WithCancel(o.run)
	l.stop, l.done = stop, make(chan struct{})
	o.group.Go(func() {
		defer close(l.done)
		defer stop()
		l.run(ctx)
	})
}
