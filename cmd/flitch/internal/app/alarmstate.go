package app

import (
	"context"
	"encoding/json"
	"log/slog"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/alerts"
)

// What the state topic says.
const (
	online  = "online"
	offline = "offline"
)

// Waits of the alarm state, by the clock of the machine: proposals.
const (
	sayWithin = 10 * time.Second       // one message
	sayAgain  = 5 * time.Second        // after one that did not get through
	sayPause  = 200 * time.Millisecond // between two looks at the alarms
)

// An alarmState tells by MQTT whether flitch lives and which alarms stand, in
// retained messages, so that a lamp or a siren needs neither internet nor page:
//
//	PREFIX/state                   online, or offline
//	PREFIX/alarm                   loudest alarm that stands: ring, tell, note or none
//	PREFIX/unanswered              the same of those that nobody has answered
//	PREFIX/alarms/ENTRY/SUBJECT    one alarm, as JSON; removed when it is over
//
// One that is shelved is hidden from people: the first two leave it out until its shelf
// ends, and the third says so.
// Only its own goroutine touches what is there.
type alarmState struct {
	prefix   string
	standing func() ([]alerts.Occurrence, error)
	past     func() ([]alerts.Occurrence, error)    // newest first, for what an earlier run left at the broker
	action   map[string]string                      // what to do first, by entry
	shelf    func(o alerts.Occurrence) alerts.Shelf // what hides it from people now; zero: nothing
	say      func(ctx context.Context, topic string, payload []byte, retained bool) error
	log      *slog.Logger
	wake     chan struct{} // something may have changed
	up       chan struct{} // the broker is there, and may have forgotten

	there   map[string]string // what the broker keeps of us, by topic
	unclear bool              // after a connection nothing is sure
}

func newAlarmState(prefix string) *alarmState {
	return &alarmState{prefix: prefix, wake: make(chan struct{}, 1), up: make(chan struct{}, 1), there: map[string]string{}, unclear: true}
}

// changed says that an alarm may have changed. It never blocks; nil is nobody.
func (s *alarmState) changed() {
	if s != nil {
		nudge(s.wake)
	}
}

func (s *alarmState) connected() { nudge(s.up) }

func nudge(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// run tells until ctx ends, and then that we are gone.
func (s *alarmState) run(ctx context.Context) error {
	s.leftovers()
	for {
		wait := sayPause
		if err := s.turn(ctx); err != nil && ctx.Err() == nil {
			s.log.Debug("alarm state not told, trying again", "err", err)
			wait = sayAgain
		}
		select {
		case <-ctx.Done():
			s.goodbye()
			return nil
		case <-Wall{}.After(wait):
		}
		if wait == sayAgain {
			continue
		}
		select {
		case <-ctx.Done():
		case <-s.wake:
		case <-s.up:
			s.unclear = true
		}
	}
}

// leftovers notes the topics that an earlier run may have left behind.
func (s *alarmState) leftovers() {
	past, err := s.past()
	if err != nil {
		s.log.Warn("alarms of earlier runs not read", "err", err)
	}
	for _, o := range past {
		s.there[s.topic(o)] = ""
	}
}

// turn brings what the broker keeps up to what is.
func (s *alarmState) turn(ctx context.Context) error {
	select {
	case <-s.up:
		s.unclear = true
	default:
	}
	want, err := s.want()
	if err != nil {
		return err
	}
	known := s.there
	if s.unclear {
		known = map[string]string{}
	}
	for _, topic := range slices.Sorted(maps.Keys(want)) {
		if known[topic] == want[topic] {
			continue
		}
		if err := s.tell(ctx, topic, want[topic], true); err != nil {
			return err
		}
		s.there[topic] = want[topic]
	}
	for _, topic := range slices.Sorted(maps.Keys(s.there)) {
		if _, stands := want[topic]; stands {
			continue
		}
		if err := s.over(ctx, topic); err != nil {
			return err
		}
	}
	s.unclear = false
	return nil
}

// over tells that an alarm has ended and removes the copy that the broker keeps.
func (s *alarmState) over(ctx context.Context, topic string) error {
	var last alarmMessage
	if text := s.there[topic]; text != "" && json.Unmarshal([]byte(text), &last) == nil {
		last.State, last.Shelf = "cleared", nil
		if err := s.tell(ctx, topic, last.text(), false); err != nil {
			return err
		}
		s.there[topic] = "" // told once, however often the rest is tried
	}
	if err := s.tell(ctx, topic, "", true); err != nil {
		return err
	}
	delete(s.there, topic)
	return nil
}

// goodbye says that we are gone. Alarms stay as they are: they still stand.
func (s *alarmState) goodbye() {
	if err := s.tell(context.Background(), s.prefix+"/state", offline, true); err != nil {
		s.log.Debug("goodbye not told", "err", err)
	}
}

func (s *alarmState) tell(ctx context.Context, topic, payload string, retained bool) error {
	within, cancel := context.WithTimeout(ctx, sayWithin)
	defer cancel()
	return s.say(within, topic, []byte(payload), retained)
}

// An alarmMessage is one alarm as a machine reads it.
type alarmMessage struct {
	Number     int64     `json:"number"`
	Entry      string    `json:"entry"`
	Title      string    `json:"title"`
	Subject    string    `json:"subject"`
	Level      string    `json:"level"`
	State      string    `json:"state"` // active, acknowledged, shelved or cleared
	Since      time.Time `json:"since"`
	Raised     time.Time `json:"raised"`
	Value      float64   `json:"value"`
	Limit      float64   `json:"limit"`
	Unit       string    `json:"unit,omitempty"`
	AnsweredBy string    `json:"acknowledged_by,omitempty"`
	Action     string    `json:"action,omitempty"`

	Shelf *alerts.Shelf `json:"shelf,omitempty"` // who hid it, why and until when
}

// text is m as JSON. A number that JSON has no word for is left at zero.
func (m alarmMessage) text() string {
	for _, v := range []*float64{&m.Value, &m.Limit} {
		if math.IsNaN(*v) || math.IsInf(*v, 0) {
			*v = 0
		}
	}
	text, _ := json.Marshal(m) // every part of it can be written now
	return string(text)
}

// want is everything that the broker should keep, by topic.
func (s *alarmState) want() (map[string]string, error) {
	standing, err := s.standing()
	if err != nil {
		return nil, err
	}
	want := map[string]string{s.prefix + "/state": online}
	loudest, unanswered := alerts.Level(0), alerts.Level(0)
	for _, o := range slices.Backward(standing) { // oldest first: it keeps its topic
		shelf := s.shelf(o)
		if shelf.Until.IsZero() {
			loudest = max(loudest, o.Level)
		}
		if shelf.Until.IsZero() && o.AcknowledgedAt.IsZero() {
			unanswered = max(unanswered, o.Level)
		}
		topic := s.topic(o)
		if _, taken := want[topic]; taken {
			topic += "-" + strconv.FormatInt(o.Number, 10)
		}
		want[topic] = s.message(o, shelf).text()
	}
	want[s.prefix+"/alarm"], want[s.prefix+"/unanswered"] = loudest.String(), unanswered.String()
	return want, nil
}

func (s *alarmState) message(o alerts.Occurrence, shelf alerts.Shelf) alarmMessage {
	m := alarmMessage{Number: o.Number, Entry: o.Entry, Title: o.Title, Subject: o.Subject, Level: o.Level.String(), State: "active",
		Since: o.Since, Raised: o.RaisedAt, Value: o.Value, Limit: o.Limit, Unit: o.Unit, AnsweredBy: o.AcknowledgedBy, Action: s.action[o.Entry]}
	if !o.AcknowledgedAt.IsZero() {
		m.State = "acknowledged"
	}
	if !shelf.Until.IsZero() {
		shelf.ID, shelf.At = "", time.Time{} // for taking it back, which is not done from here
		m.State, m.Shelf = "shelved", &shelf
	}
	return m
}

func (s *alarmState) topic(o alerts.Occurrence) string {
	return s.prefix + "/alarms/" + o.Entry + "/" + slug(o.Subject)
}

// slug makes one level of a topic out of words: small letters, digits, points and
// dashes.
func slug(words string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(words) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '.', r == '_', r > 127:
			b.WriteRune(r)
		default:
			b.WriteByte('-')
		}
	}
	return b.String()
}
