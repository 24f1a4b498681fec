package alerts

// A QueuedMessage is a stored message that is due, as the store hands it to the
// delivery loop.
type QueuedMessage struct {
	Message
	Attempts   int  // attempts begun so far
	Unfinished bool // an attempt has no stored end, or no answer came to it: it may have arrived
}
