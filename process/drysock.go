package process

import "flitch/ingest/signal"

const (
	drySockK     = 0.5  // a wet bulb this near the dry bulb has a dry sock (proposal)
	drySockFromC = 40.0 // chamber from which the two have to differ, °C (proposal)
)

// drySockAt reports a reading of a wet bulb that is as much as the hot air beside it:
// its sock is dry, and it looks moister than it is.
func (b *Batch) drySockAt(t *Track, s Sample) bool {
	if t.Probe.Placement != WetBulb || b.Stage().Where != WhereSmoker {
		return false
	}
	chamber := b.TrackOf(Chamber)
	return chamber != nil && !chamber.Old(s.At) && !chamber.Doubted() &&
		chamber.Last.Value >= drySockFromC && s.Value >= chamber.Last.Value-drySockK
}

// SockDry is the value of MeasureTooDry for a sock that is dry: as dry as can be.
const SockDry = 100.0

// drySock reports that the newest reading of a wet bulb, not long ago, was of a dry sock.
func (b *Batch) drySock() bool {
	dry := false
	b.eachTrack(WetBulb, func(t *Track) {
		dry = dry || t.Doubt == signal.DrySock && b.Now.Sub(t.Sieve.Newest.At) <= t.Probe.allowed()
	})
	return dry
}
