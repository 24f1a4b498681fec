package ingest

// acksAhead is how many batches may wait for their acknowledgement. Acks do not
// block, so that it only has to cover the scheduling of one goroutine.
const acksAhead = 4

// startAcker acknowledges the batches sent to it, in order, on a goroutine of its
// own, so that the next transaction need not wait. Close acks to end it; acked
// closes when it has ended.
func startAcker() (acks chan<- []*item, acked <-chan struct{}) {
	work, done := make(chan []*item, acksAhead), make(chan struct{})
	go func() {
		defer close(done)
		for items := range work {
			for _, it := range items {
				if it.ack != nil {
					it.ack()
				}
			}
		}
	}()
	return work, done
}
