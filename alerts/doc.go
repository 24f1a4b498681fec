// Package alerts decides when a person is told. It is pure: a signal and the
// time go in, events and messages come out.
//
// The alarm states follow ISA-18.2 as independent small machines: a condition
// (normal, pending, active, clearing), an acknowledgement, and hiding. The
// deadband and the off-delay only ever end an alarm; they never start one. An
// invalid sample never raises and never clears.
package alerts
