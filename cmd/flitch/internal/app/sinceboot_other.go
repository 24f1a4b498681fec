//go:build !linux

package app

import "time"

// sinceBoot counts by Go's clock, which may stand while the machine is suspended: a sleep
// is then told as a step of the clock.
func sinceBoot() time.Duration { return time.Since(started) }
