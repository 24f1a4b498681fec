// Package homie reads devices that follow the Homie convention, versions 3, 4 and 5:
// what a property reads, in which unit, and whether its device is there at all.
//
// The sources are the published conventions 3.0.1, 4.0.0 and 5.0.0, and the legacy
// stats extension 0.1.1, which carries $stats of version 3 over to version 4.
//
// The convention knows no time: a value holds when it arrives, and a copy that the
// broker had kept is old by an amount that nobody knows, so that it is told apart and
// never fresh. What a device says of itself ($state, units, $description) is as true
// when it was kept: the broker keeps the newest.
//
// A Controller, in the words of the convention, is pure: messages in, values out. It
// is bounded: it keeps what concerns the properties that are wanted, and the states of
// at most maxRoots other devices, one of which may be the root of a wanted one.
package homie
