// Package sim is a virtual cure room: fridges, a smoker, slabs of belly and the
// probes in them. The demo and the tests are driven by what its probes publish.
//
// Everything in it is invented: the shop, the people, the batch and every number
// its probes say. The physics is good enough to look like a cure room (a door
// left ajar, a stall, a chill that is too slow) and is no evidence of how meat
// behaves. Nothing here may be used to judge a process.
//
// It is deterministic. Time comes in through World.Advance and is never asked
// for; noise comes from generators seeded by the caller; there are no goroutines.
// The same seed gives the same bytes, however the time is cut into pieces.
package sim
