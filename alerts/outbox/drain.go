package outbox

import "context"

// Drain sends what is due now, for a loop that is not running: a rehearsal has its own
// time. It returns when every channel has nothing more to do at this time.
func (o *Outbox) Drain(ctx context.Context) {
	for _, name := range o.Names() {
		o.mu.Lock()
		l := o.lanes[name]
		o.mu.Unlock()
		l.looked = o.clock.Now() // nothing was waited for in between
		for ctx.Err() == nil && l.turn(ctx) == 0 {
		}
	}
}
