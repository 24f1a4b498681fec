package app

import (
	"time"

	"golang.org/x/sys/unix"
)

// sinceBoot counts from when the machine was started. Go's own count stands while the
// machine is suspended; this one does not.
func sinceBoot() time.Duration {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return time.Since(started)
	}
	return time.Duration(t.Nano())
}
