// Package readout reads what a stand-alone logger wrote: a CSV whose columns, times and
// units are as its maker liked. Nothing is guessed silently: what a Layout says is what is
// read, and a row that does not fit is refused with its line and the reason.
package readout
