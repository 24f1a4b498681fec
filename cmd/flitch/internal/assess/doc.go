// Package assess runs a logger's file through the same evaluation as the daemon:
// readings and events from CSV go through the House, as if they had come in time,
// and the clocks, alarms and excursions that follow are reported. Nothing is
// guessed: a row that cannot be read is named by its line and left out.
package assess
