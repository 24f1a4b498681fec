package config

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Heartbeat is a sign of life to somebody outside, who rings when it stays
// away. Without a URL there is none.
type Heartbeat struct {
	URL      Secret // it often holds a token, so it is never shown
	Method   string // "POST" or "GET"
	Bearer   Secret // optional
	Every    time.Duration
	Deadline time.Duration // one attempt, and before it the proof, is given up after this
}

// A TestRing tries out every way to a phone once a week.
type TestRing struct {
	On     bool
	Day    time.Weekday
	Hour   int // 0 to 23, in the site's zone
	Minute int
}

// An Announce is what flitch tells of itself by MQTT: its state and its alarms.
type Announce struct {
	Topic string // first part of every topic; empty: nothing is told
}

// Bounds of the time between two beats: proposals. Who watches from outside
// commonly takes a beat for missing after three.
const (
	defaultBeat = 5 * time.Minute
	leastBeat   = 10 * time.Second
	mostBeat    = 24 * time.Hour
)

func readHeartbeat(t *table) Heartbeat {
	defer t.finish()
	h := Heartbeat{
		Method: t.choice("method", "POST", "POST", "GET"),
		Bearer: t.secret("bearer", false),
		Every:  t.duration("every", defaultBeat, leastBeat, mostBeat),
		// A beat that takes longer than the shortest time between two is none.
		Deadline: t.duration("deadline", defaultDeadline, leastDeadline, mostDeadline),
		URL:      t.sealedText("url", false),
	}
	address := t.text("url")
	switch sealed := t.has("url_file") || t.has("url_env"); {
	case sealed && t.has("url"):
		t.problem("url", "", "and url_file are both given", "one of the two")
	case !sealed && t.present && address == "":
		t.missing("url", `url = "https://beats.example/larder"`)
	case !sealed && t.present:
		checkWeb(t, "url", address)
		h.URL = NewSecret(address)
	case h.URL.IsSet() && h.URL.Reveal() != hidden:
		checkWeb(t, "url_file", h.URL.Reveal())
	}
	return h
}

// weekdays are the words a person types, in the order of time.Weekday.
var weekdays = []string{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}

// never turns the test ring off.
const never = "never"

// readTestRing is on unless the file says never: a way that is not tried out is
// taken to be dead.
func readTestRing(t *table) TestRing {
	defer t.finish()
	day := t.choice("day", weekdays[0], append(slices.Clone(weekdays), never)...)
	hour, minute := readHour(t, "at", 11, 0)
	if day == never {
		return TestRing{}
	}
	return TestRing{On: true, Day: time.Weekday(slices.Index(weekdays, day)), Hour: hour, Minute: minute}
}

// readTurns is the hour at which a household turns its slabs. Midnight is refused: then
// a day without a turn cannot be told from the next.
func readTurns(t *table) time.Duration {
	defer t.finish()
	if !t.present {
		return 0
	}
	const example = `at = "18:00"`
	if !t.has("at") {
		t.missing("at", example)
		return 0
	}
	hour, minute := readHour(t, "at", 18, 0)
	if hour == 0 && minute == 0 {
		t.problem("at", t.text("at"), "is the border of two days", example)
	}
	return time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute
}

// readHour is a time of day, as "11:00".
func readHour(t *table, key string, hour, minute int) (int, int) {
	example := fmt.Sprintf(`%s = "%02d:%02d"`, key, hour, minute)
	text := t.text(key)
	if text == "" {
		if t.values[key] == "" {
			t.problem(key, "", "is empty", example)
		}
		return hour, minute
	}
	clock, err := time.Parse("15:04", text)
	if err != nil {
		t.problem(key, text, fmt.Sprintf("%q is not a time of day from 00:00 to 23:59", text), example)
		return hour, minute
	}
	return clock.Hour(), clock.Minute()
}

// readAnnounce refuses topics on which readings come in: what flitch tells of
// itself must never come back as a reading.
func readAnnounce(t *table, probes []Probe) Announce {
	defer t.finish()
	const example = `topic = "flitch"`
	topic, off := t.or("topic", "flitch"), t.yes("off")
	switch {
	case strings.ContainsAny(topic, "#+"):
		t.problem("topic", topic, "holds a wildcard", example)
	case strings.HasPrefix(topic, "$") || strings.HasPrefix(topic, "/") || strings.HasSuffix(topic, "/"):
		t.problem("topic", topic, "begins with $ or begins or ends with a slash", example)
	}
	if off {
		return Announce{}
	}
	for _, p := range probes {
		if p.isBelow(topic) {
			t.problem("topic", topic, fmt.Sprintf("probe %s is read from %s, below the topic flitch tells of itself on", p.Name, p.Topic),
				`another topic under [announce], such as topic = "flitch-state"`)
		}
	}
	return Announce{Topic: topic}
}

// isBelow reports whether p may be read from topic or from below it.
func (p Payload) isBelow(topic string) bool {
	from, parts := strings.Split(p.ReadFrom(), "/"), strings.Count(topic, "/")+1
	return len(from) >= parts && share(strings.Join(from[:parts], "/"), topic)
}
