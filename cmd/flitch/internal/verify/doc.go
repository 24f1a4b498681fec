// Package verify finds out whether a database of flitch, or the proof of one batch, is as
// it was written, and computes every clock anew from the readings in it. It trusts nothing
// that it is given and changes nothing.
package verify
