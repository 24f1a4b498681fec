//go:build !linux

package store

// oneArena does nothing: what it mends is of one C library on Linux.
func oneArena() {}
