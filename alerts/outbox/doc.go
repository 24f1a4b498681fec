// Package outbox sends stored messages: claim, send, settle, back off.
//
// Every channel has one goroutine of its own, so that a phone service that does
// not answer holds up nobody else. An attempt is stored before the first byte
// goes out and settled after the answer. A stop in between leaves an attempt
// without an end; the message is then sent again with the same alarm number and
// the note that it may be a repeat. Nothing that was due is dropped in silence:
// it is delivered, or settled as failed and reported.
package outbox
