package decode

import "time"

// A Rejection is a message that could not be used. It is kept, with the reason,
// and acknowledged: otherwise it would hold a place in the broker's queue for
// ever.
type Rejection struct {
	Topic    string
	Received time.Time
	Raw      []byte // at most MaxRaw bytes of the payload
	Size     int    // of the whole payload, bytes
	Reason   string // what is wrong, in words
}

// MaxRaw bounds how much of an unusable payload is kept, in bytes.
const MaxRaw = 1024
