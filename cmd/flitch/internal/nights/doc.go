// Package nights runs the whole evaluation over invented nights: a fridge that is
// opened and defrosts, two cooks a week, cold smoke and jerky beside them, packs that
// are kept, gaps of the wifi, late data, coarse sensors, hot days, and faults at known
// times, all kinds of them as often. Each line of the catalogue has to tell of one, or of
// something that is due. It says what was missed, what rang for nothing, and how long it
// took to ring. The world is ingest/sim's; the evaluation is the daemon's.
package nights
