package alerts

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// A switch that stays loose all day: one summary an hour, and no message of its own
// before it has neither come nor gone for an hour.
func TestStoryAChatterStaysFoldedUntilItIsQuiet(t *testing.T) {
	s, noon := newTale(t), three.Add(7*time.Hour)
	s.policy.Persons, s.policy.Channels = s.policy.Persons[:1], s.policy.Channels[:1]
	at := func(minute int) time.Time { return noon.Add(time.Duration(minute) * time.Minute) }
	chatter := func(from, to int) {
		for minute := from; minute < to; minute++ {
			switch minute % 4 {
			case 0:
				s.value(s.teller(), "fridge alder", at(minute), 2)
			case 2:
				s.value(s.teller(), "fridge alder", at(minute), 0)
			}
			s.tick(at(minute))
			s.restart()
		}
	}
	chatter(0, 240)
	for minute := 240; minute < 320; minute++ { // quiet
		s.tick(at(minute))
	}
	chatter(320, 324)
	var got []string
	for _, m := range s.sent {
		got = append(got, fmt.Sprintf("%d %s", int(m.Due.Sub(noon).Minutes()), m.Kind))
	}
	want := []string{"0 raised", "2 cleared", "4 raised", "6 cleared", "8 raised", "10 cleared", "72 digest", "134 digest", "196 digest", "258 digest", "320 raised", "322 cleared"}
	if !slices.Equal(got, want) {
		t.Errorf("sent %q\nwant %q", got, want)
	}
}

// A chatter that was told of in a summary while it stood, and is over then, waits for
// the next one, too.
func TestAChatterThatStoodInTheSummaryEndsInTheNext(t *testing.T) {
	s, noon := newTale(t), three.Add(7*time.Hour)
	s.policy.Persons, s.policy.Channels = s.policy.Persons[:1], s.policy.Channels[:1]
	at := func(minute int) time.Time { return noon.Add(time.Duration(minute) * time.Minute) }
	for i := range 16 {
		s.value(s.teller(), "fridge alder", at(4*i), 2)
		s.value(s.teller(), "fridge alder", at(4*i+2), 0)
	}
	s.value(s.teller(), "fridge alder", at(65), 2) // stands
	s.sent = nil
	s.tick(at(72))
	s.wantSent("tv digest")
	s.value(s.teller(), "fridge alder", at(80), 0)
	s.wantSent()
	s.tick(at(140))
	if len(s.sent) != 1 || !strings.Contains(s.sent[0].Body, "Fridge warm, alder: over") {
		t.Errorf("sent %+v, want the end in a summary", s.sent)
	}
}

// A repeat and a call that goes on meet in one minute: nobody hears it twice, and
// nobody is left out.
func TestStoryARepeatAndACallInOneMinuteAreOneMessage(t *testing.T) {
	for _, every := range []time.Duration{5 * time.Minute, 12*time.Minute + 40*time.Second, 24*time.Minute + 40*time.Second, 15 * time.Minute} {
		s := newTale(t)
		e := s.ringer(every)
		s.value(e, "batch OL-1", three.Add(-20*time.Second), 2)
		for second := 0; second < 45*60; second += 20 { // a reading every 20 s
			now := three.Add(time.Duration(second) * time.Second)
			s.value(e, "batch OL-1", now, 2)
			if second%60 == 0 {
				s.tick(now)
			}
		}
		last, heard := map[string]time.Time{}, map[string]int{}
		for _, m := range s.sent {
			if before, known := last[m.Channel]; known && m.Due.Sub(before) < time.Minute {
				t.Errorf("repeat every %s: %s has %s at %s, %s after another", every, m.Channel, m.Kind, m.Due.Format("15:04:05"), m.Due.Sub(before))
			}
			last[m.Channel] = m.Due
			heard[m.Channel]++
		}
		for _, channel := range []string{"tv", "mo", "jk", "siren", "neighbour"} {
			if heard[channel] == 0 {
				t.Errorf("repeat every %s: %s heard nothing in 45 min", every, channel)
			}
		}
	}
}
