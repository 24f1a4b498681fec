package rehearsal

import (
	"os"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process/plans"
	"flitch/process/scenario"
)

// A phone that cannot be reached hears of a lost fire when it is back, once.
func TestAPhoneThatIsAway(t *testing.T) {
	text, err := os.ReadFile(folder + "/06-ember-at-three.txt")
	if err != nil {
		t.Fatal(err)
	}
	const fire = "from 02:50 to "
	before, after, ok := strings.Cut(string(text), fire)
	if !ok {
		t.Fatal("the fire does not go out at 02:50 any more")
	}
	rings := func(text string) (list []Ring) {
		s, err := scenario.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := plans.BuiltIn(s.Plan)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Run(s, plan, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, ring := range r.Phone {
			if ring.Entry == "H3" && ring.Kind != alerts.Cleared {
				list = append(list, ring)
			}
		}
		return list
	}
	there := rings(string(text))
	away := rings(before + "from 02:45 to 03:19 phone away\n" + fire + after)
	if len(there) != 2 || len(away) != 2 {
		t.Fatalf("there %+v, away %+v", there, away)
	}
	back := time.Date(2031, 4, 10, 1, 19, 0, 0, time.UTC)
	if !there[0].At.Before(back) {
		t.Errorf("it rang at %s: being away would change nothing", there[0].At)
	}
	if late := away[0].At.Sub(back); late < 0 || late > 2*time.Minute || away[0].Alarm != there[0].Alarm {
		t.Errorf("it rang at %s, %s after the phone was back: %+v", away[0].At, late, away[0])
	}
	if away[1].At != there[1].At {
		t.Errorf("the next ring was at %s, want %s", away[1].At, there[1].At)
	}
}
