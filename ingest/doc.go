// Package ingest takes messages in: decode, judge, store, and only then
// acknowledge. A publisher that saw an acknowledgement has its reading on disk.
//
// Submit may be called by many sources at once. It decodes on the caller's
// goroutine and then waits for room: the queue is bounded, and back-pressure is
// the source's. One loop takes whatever waits into one transaction (group commit),
// so that a batch forms by itself while the one before is being written. A store
// that fails is tried again with the same batch for ever: nothing is acknowledged
// and nothing dropped meanwhile, and Options.Fault hears of it at once.
//
// A message that nobody can use is kept as a decode.Rejection in the same
// transaction and acknowledged: unacknowledged it would hold a place in the
// broker's queue for ever.
//
// One message may carry many readings of one probe, stored by the device and sent
// later. They are taken at their own times in any order, or refused; how many such
// messages wait is bounded apart, so that memory is.
//
// Exactly once or at least once: a redelivered message with a time in its payload
// is recognised by (probe, time) and absorbed; one without is a new reading.
package ingest
