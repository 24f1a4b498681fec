package alerts

import "time"

// A SendError is why one attempt to send failed, and whether trying again can
// help. Text has no secret in it: it is stored, shown and logged.
type SendError struct {
	Retry bool          // network trouble, 408, 429, 5xx, a temporary SMTP answer
	After time.Duration // the other side asked to wait this long; zero if it did not
	Gone  bool          // whoever was to take it is no more; there is no use in sending anything to them again
	Text  string

	// Unknown: the message went out and no answer came back, so it may have arrived.
	Unknown bool
}

// Error returns Text.
func (e *SendError) Error() string { return e.Text }
