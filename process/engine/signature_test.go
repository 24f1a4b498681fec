package engine

import (
	"errors"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// Initials that are nobody's are refused wherever somebody answers, has or judges an
// alarm, with those there are, the nearest first; nothing is changed.
func TestAStrangerCannotSign(t *testing.T) {
	n := newNight(t)
	n.must(fault(FaultBroker, 1))
	n.until(ten.Add(40*time.Minute), 4.7, nil) // a ring, B7, and a tell
	later, journal := n.clock.now.Add(time.Hour), n.journal()
	for by, nearest := range map[string]string{"mo": "sign as one of M.O., T.V., J.K.", "JK": "sign as one of J.K., T.V., M.O.", "X.Y.": "sign as one of T.V., M.O., J.K.",
		"link of elsewhere": "sign as one of", "": "sign as one of T.V., M.O., J.K.", "T.V. ": "sign as one of T.V., M.O., J.K."} {
		for _, c := range []process.Command{
			{Kind: process.CommandAcknowledge, Alarm: 1}, {Kind: process.CommandDuty, Until: later}, {Kind: process.CommandJudge, Alarm: 1, Text: "useful"},
			{Kind: process.CommandShelve, Alarm: 1, Text: "loading", Until: later}, {Kind: process.CommandOut, Alarm: 1, Text: "mended", Until: later},
		} {
			c.By = by
			var refused *process.Refusal
			if err := n.say(c); !errors.As(err, &refused) || !strings.HasPrefix(refused.Hint, nearest) || refused.NotFound {
				t.Errorf("%s by %q: %+v", c.Kind, by, err)
			}
		}
	}
	if after := n.journal(); after != journal {
		t.Errorf("something changed:\n%s", after)
	}
	n.must(process.Command{Kind: process.CommandAcknowledge, By: "link of jk", Alarm: 1}) // a channel of several persons signs for its link
	n.must(process.Command{Kind: process.CommandJudge, By: "link of jk", Alarm: 1, Text: "useful"})
	if err := n.say(process.Command{Kind: process.CommandDuty, By: "link of jk", Until: later}); err == nil {
		t.Error("a link took the night")
	}
}

// A house that names nobody takes any initials, and none at all are no initials.
func TestWithoutPersonsAnybodySigns(t *testing.T) {
	n := newNight(t)
	n.policy.Persons = nil
	n.start()
	n.must(fault(FaultBroker, 1))
	n.until(ten.Add(10*time.Minute), 3, nil)
	if err := n.say(process.Command{Kind: process.CommandAcknowledge, Alarm: 1}); err == nil {
		t.Error("nobody answered it")
	}
	n.must(process.Command{Kind: process.CommandAcknowledge, By: "Q.Q.", Alarm: 1})
	n.must(process.Command{Kind: process.CommandJudge, By: "Q.Q.", Alarm: 1, Text: "late"})
}
