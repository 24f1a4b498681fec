package alerts

import (
	"testing"
	"time"
)

// warmth plays a fridge that is at 6 °C in some minutes and else at 4, and returns the
// minutes at which C2 was raised. Minutes in which no batch is inside end the question.
func warmth(t *testing.T, until int, warm, empty func(minute int) bool) (raised []int) {
	t.Helper()
	e, a, number := catalogued(t, "C2"), &Alarm{}, int64(0)
	for minute := range until {
		s := Signal{Subject: "fridge alder", At: noon.Add(time.Duration(minute) * time.Minute), Value: 4}
		switch {
		case empty(minute):
			s.State = Over
		case warm(minute):
			s.Value = 6
		}
		for _, ev := range Step(e, a, s, func() int64 { number++; return number }) {
			if ev.Kind == Raised {
				raised = append(raised, minute)
			}
		}
	}
	return raised
}

// Two hours ring; a second hour after it cleared rings again, and less does not.
func TestASecondHourOfWarmthRingsAgain(t *testing.T) {
	never := func(int) bool { return false }
	between := func(spans ...[2]int) func(int) bool {
		return func(m int) bool {
			for _, s := range spans {
				if m >= s[0] && m < s[1] {
					return true
				}
			}
			return false
		}
	}
	for name, c := range map[string]struct {
		warm, empty func(int) bool
		want        []int
	}{
		"an hour more":                         {between([2]int{0, 125}, [2]int{300, 365}), never, []int{120, 360}},
		"not quite an hour more":               {between([2]int{0, 125}, [2]int{300, 355}), never, []int{120}},
		"in two pieces":                        {between([2]int{0, 125}, [2]int{300, 340}, [2]int{500, 540}), never, []int{120, 520}},
		"the first has left the window":        {between([2]int{0, 125}, [2]int{1700, 1765}), never, []int{120}},
		"another batch has only its own hours": {between([2]int{0, 125}, [2]int{300, 400}), between([2]int{200, 201}), []int{120}},
	} {
		got := warmth(t, 2000, c.warm, c.empty)
		if len(got) != len(c.want) {
			t.Errorf("%s: raised at %v, want %v", name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: raised at %v, want %v", name, got, c.want)
			}
		}
	}
}

// What can only fall doubles the delay of an upper limit, and no more.
func TestFallingWaitsTwiceAsLong(t *testing.T) {
	for name, c := range map[string]struct {
		state func(minute int) State
		want  int
	}{
		"nothing explains it":               {func(int) State { return Known }, 30},
		"a defrost that lasts":              {func(int) State { return Falling }, 60},
		"a door that was shut after 40 min": {func(m int) State { return []State{Falling, Known}[min(m/40, 1)] }, 40},
	} {
		e, a := catalogued(t, "C1"), &Alarm{}
		raised := -1
		for minute := range 120 {
			s := Signal{Subject: "fridge alder", At: noon.Add(time.Duration(minute) * time.Minute), State: c.state(minute), Value: 5}
			for _, ev := range Step(e, a, s, func() int64 { return 1 }) {
				if ev.Kind == Raised {
					raised = minute
				}
			}
		}
		if raised != c.want {
			t.Errorf("%s: raised at minute %d, want %d", name, raised, c.want)
		}
	}
}

// A lower limit does not wait for what falls.
func TestFallingDoesNotHoldBackALowerLimit(t *testing.T) {
	e, a := catalogued(t, "C5"), &Alarm{}
	for minute := range 121 {
		s := Signal{Subject: "fridge alder", At: noon.Add(time.Duration(minute) * time.Minute), State: Falling, Value: -3}
		if raised := len(Step(e, a, s, func() int64 { return 1 })) > 0; raised != (minute == 120) {
			t.Errorf("minute %d: raised %v", minute, raised)
		}
	}
}
