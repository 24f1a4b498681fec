package alerts

// A QueuedMessage is a stored message that is due, as the store hands it to the
// delivery loop.
type QueuedMessage struct {
	Message
	Attempts   int  // attempts begun so far
	Unfinished bool // the last attempt has no stored end: it may have arrived
}
