// Package sparkplug reads Sparkplug B: which metric of which device had which value
// when, and whether the device is there at all.
//
// The sources are the Eclipse Sparkplug specification 3.0.0, chapters 4 to 6, and the
// schema printed in it (6.4.1); numbers of fields below are that schema's. It is
// decoded by these numbers, so that no generated code is needed.
//
// A Host is the state the standard asks of whoever reads: an alias means something
// only through the birth that gave it, a death counts only when it belongs to the
// birth, and sequence numbers tell when something was lost. It is pure: time and
// messages are arguments, and what to do follows as values. It is bounded: it follows
// the nodes it was told of and no others, and of a birth it keeps what was asked for
// and the aliases.
package sparkplug
