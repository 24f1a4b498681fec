// Package nights runs the whole evaluation over invented nights: a fridge that is
// opened and defrosts, two cooks a week, gaps of the wifi, late data, hot days, and
// faults at known times, all kinds of them as often. It says what was missed, what rang
// for nothing, and how long it took to ring. The world is ingest/sim's; the evaluation
// is the daemon's.
package nights
