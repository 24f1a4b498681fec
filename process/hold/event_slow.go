package hold

const (
	failPerHour = 1.0 // K/h of the air over half an hour
	failMin     = 30.0
	noFallMin   = 45.0
	fallC       = 0.3 // K that count as a fall: more than noise, less than a compressor's
	coolerC     = 1.0 // K under its warmest, at which a failure is over
	cycleMin    = 120.0
	cycleLeast  = 110.0 // minutes of air needed for a mean of whole cycles
)

// failure opens when the air rises all the time, as it does with no compressor, and
// closes when it falls again. A fast rise is a door's.
func (w *FridgeWatch) failure(now, airC float64) {
	slope, ok := w.Airs.slope(now - failMin)
	if w.Fail.Open {
		w.Fail.PeakC = max(w.Fail.PeakC, airC)
		if ok && slope < 0 && airC < w.Fail.PeakC-coolerC {
			w.clear(&w.Fail, now, now)
			w.CalmMin = now
		}
		return
	}
	window := w.Airs.since(now - noFallMin)
	whole := now-window[0].Min >= noFallMin-failMin/2 && len(window) >= 4
	if w.Rise.On || !ok || !whole || slope <= failPerHour || w.Airs.fell(now-noFallMin, fallC) {
		return
	}
	w.open(&w.Fail, Event{Kind: Failure, From: window[0].Min, Detected: now, BaseC: window[0].C, PeakC: airC})
}

// tooWarm opens when the air is over the limit in the middle of its whole cycles,
// with nothing else that explains it in those two hours.
func (w *FridgeWatch) tooWarm(now float64) {
	window := w.Airs.since(now - cycleMin)
	if now-window[0].Min < cycleLeast {
		return
	}
	middle := w.Airs.median(now - cycleMin)
	if w.Warm.Open {
		w.Warm.PeakC = max(w.Warm.PeakC, middle)
		if middle <= w.Limit() {
			w.clear(&w.Warm, now, now)
		}
		return
	}
	explained := func(e Event) bool { return e.Open || e.Kind != "" && e.Cleared > now-cycleMin }
	if middle > w.Limit() && !explained(w.Ajar) && !explained(w.Fail) {
		w.open(&w.Warm, Event{Kind: TooWarm, From: now - cycleMin/2, Detected: now, BaseC: middle, PeakC: middle})
	}
}
