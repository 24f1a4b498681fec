package ingest

import "time"

// A failing store is tried again after firstPause, then twice as long each time,
// up to lastPause. Proposal: quick enough that a short hiccup goes unnoticed, slow
// enough for a full disk.
const (
	firstPause = 100 * time.Millisecond
	lastPause  = 5 * time.Second
)

// insist calls op until it works. It returns op's last error only when giveUp
// closes.
func (in *Intake) insist(giveUp <-chan struct{}, op func() error) error {
	for pause := firstPause; ; pause = min(2*pause, lastPause) {
		err := op()
		if err == nil {
			in.works()
			return nil
		}
		in.fails(err)
		if !in.pause(pause, giveUp) {
			return err
		}
	}
}

// fails reports a failure of the store: each try is counted, and each new text is
// said once.
func (in *Intake) fails(err error) {
	in.opts.Observe.StoreFailed()
	if in.held.gap.From.IsZero() {
		in.held.gap.From = in.clock.Now()
	}
	if in.failing == err.Error() {
		return
	}
	in.failing = err.Error()
	in.opts.Log.Error("readings cannot be stored: nothing is acknowledged until they are", "error", err)
	in.opts.Fault(err)
}

// works reports the end of a failure.
func (in *Intake) works() {
	if in.failing == "" {
		return
	}
	in.failing = ""
	in.opts.Log.Info("readings are stored again")
	in.opts.Fault(nil)
}
