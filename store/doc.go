// Package store keeps everything flitch knows in one SQLite file.
//
// What it promises: a call that returned without an error is on disk
// (write-ahead log, one fsync per commit: synchronous=FULL, checked at Open),
// and a call that failed has changed nothing. There is one writer, guarded by a
// mutex and by a lock file against a second daemon; readers have their own
// connections and never wait for it.
//
// Readings, commands and ticks are one log with one sequence number. The single
// writer gives the numbers out, so the order of the numbers is the order of the
// commits, and a reader that has seen number n never sees a lower one appear.
//
// Times are cut to whole milliseconds and come back in UTC. The state of a batch,
// place or alarm is opaque bytes here. This is the only importer of the SQLite
// driver.
package store
