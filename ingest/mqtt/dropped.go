package mqtt

import "strconv"

// droppedTopic is where mosquitto, and brokers like it, count the messages they have
// dropped for any client because a queue was full (mosquitto(8), Broker Status). A broker
// that does not say, or does not let us read it, tells nothing.
const droppedTopic = "$SYS/broker/publish/messages/dropped"

// watchDropped asks for the count; no answer is no news.
func (s *Subscriber) watchDropped() { s.client.Subscribe(droppedTopic, 0, nil) }

// heardDropped compares the count with the one before. The count begins anew with the
// broker; the first one heard is told if it is not zero.
func (s *Subscriber) heardDropped(payload []byte) {
	total, err := strconv.ParseInt(string(payload), 10, 64)
	if err != nil {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	before := s.drops
	s.drops = total
	if total > before && s.events.Dropped != nil && s.ctx.Err() == nil {
		s.events.Dropped(total - before)
	}
}
