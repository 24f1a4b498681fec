// Package process computes what happens to a batch of cured meat: its stages,
// its clocks, its excursions and what has to be done next.
//
// It is pure. Step takes a batch and one entry of the stored input log and
// returns what it found; time is in the input, never asked for. The live daemon,
// the demo, a replay and the tests all run this one function, so the same log
// gives the same answer everywhere.
//
// Missing or doubtful data never helps a verdict: a gap earns no lethality and
// no cure, counts as the warmer of its ends against a danger limit, and is named
// on the clock it made uncertain.
package process
