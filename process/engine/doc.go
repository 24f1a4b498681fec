// Package engine is the loop between the stored input log and the pure core. It
// takes what was committed, in order, through process.Step and the alarm machine,
// and writes what follows (state, journal, alarms, messages and the cursor) in one
// transaction. It is the only one that changes any of these.
//
// State is written when something happened that a person may hear of, and else
// once a minute; after a crash the inputs behind the cursor are evaluated again
// and give the same result.
package engine
