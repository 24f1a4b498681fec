package alerts

import "time"

// A Message is one thing to be sent to one channel. It is stored before it is
// sent, and keeps its alarm's number however often it is sent.
type Message struct {
	ID      int64     // given by the store
	Alarm   int64     // number of the alarm; zero for a prompt or test
	Kind    EventKind // why it is sent
	Entry   string
	Level   Level
	Channel string    // name of the channel in the configuration
	Subject string    // first line on a locked phone
	Body    string    // second line and the rest
	Due     time.Time // not sent before
}

// Outcome is how one attempt to send ended.
type Outcome string

// The outcomes of an attempt. Retry is decided by the channel: network trouble,
// 408, 429 and 5xx are retried, any other refusal is final.
const (
	Delivered Outcome = "delivered"
	RetryAt   Outcome = "retry"
	Failed    Outcome = "failed"
)

// MayHaveCome is the receipt of an attempt that is made again because no answer came to it: what
// the other side has of it nobody knows.
const MayHaveCome = "no answer, it may have arrived"

// A Settlement is the result of one attempt.
type Settlement struct {
	Message int64
	Outcome Outcome
	At      time.Time
	NextAt  time.Time // when Outcome is RetryAt
	Receipt string    // what the other side answered, secrets removed; or MayHaveCome
	Error   string    // empty when delivered
}
