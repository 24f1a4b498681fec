package app

import (
	"sync"

	"flitch/process"
)

// A cookDesk keeps the forecasts of the cooks between one look at the page and the
// next: made anew each time they would take a second.
type cookDesk struct {
	mu    sync.Mutex
	cooks process.CookForecasts
}

func (d *cookDesk) slowest(b *process.Batch) (process.CookForecast, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.cooks.Slowest(b)
}

func (d *cookDesk) fan(b *process.Batch) (process.CookFan, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.cooks.Fan(b)
}

func (d *cookDesk) forget(open []*process.Batch) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.cooks.Forget(open)
}
