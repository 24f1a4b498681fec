// Package series keeps what a picture can show of a long row of readings: of each
// short piece of time the first, the lowest, the highest and the last. Every point it
// gives back is a reading that was put in, at its own time.
//
// What is kept does not depend on the order in which readings came, so a daemon that
// took late data and one that has just started draw the same picture.
package series
