package process

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"
)

// warm is a batch of two pieces whose fridge was above 40 °F for three hours.
func warm(t *testing.T) *diary {
	d := newDiary(t)
	d.batch.Pieces = append(d.batch.Pieces, Piece{Name: "B", GreenG: 2300, ThicknessMM: 40})
	d.line("slow", 0, 10*hour, 5*minute, 3, 3)
	d.line("slow", 10*hour+5*minute, 13*hour, 5*minute, 8, 8)
	d.line("slow", 13*hour+5*minute, 20*hour, 5*minute, 3, 3)
	return d
}

// decide says a disposition as the house would take it, some minutes after twenty hours.
func (d *diary) decide(minutes time.Duration, what Disposition, pieces ...string) {
	d.t.Helper()
	at := 20*hour + minutes*minute
	c := Complete(d.batch, Command{ID: "d", Kind: CommandDisposition, Disposition: what, Pieces: pieces, Text: "by the numbers of the night", Typed: noon.Add(at)})
	if err := CheckStanding(d.batch, c); err != nil {
		d.t.Fatalf("%s: %v", what, err)
	}
	d.say(at, c)
}

func TestHACCPCommandsThatAreRefused(t *testing.T) {
	action := func(a ActionSaid) Command { return Command{Kind: CommandAction, Action: &a} }
	long := strings.Repeat("x", maxText+1)
	for name, c := range map[string]struct {
		c    Command
		want string
	}{
		"an action without text":         {Command{Kind: CommandAction}, "without its text"},
		"an action about nothing":        {action(ActionSaid{Cause: "x"}), `has no ""`},
		"an action about something else": {action(ActionSaid{About: "the weather", Cause: "x"}), "out-of-cold"},
		"an empty action":                {action(ActionSaid{About: "C2"}), "empty"},
		"a long part":                    {action(ActionSaid{About: "C2", Product: long}), "2001"},
		"no such disposition":            {Command{Kind: CommandDisposition, Disposition: "bless", Text: "x"}, "release from hold"},
		"a disposition without a reason": {Command{Kind: CommandDisposition, Disposition: Discard, Text: " "}, "reason"},
		"a disposition of no piece":      {Command{Kind: CommandDisposition, Disposition: Discard, Text: "x", Pieces: []string{"Q"}}, "its pieces are A"},
		"a disposition with a long text": {Command{Kind: CommandDisposition, Disposition: Discard, Text: long}, "2001"},
		"a review with a long text":      {Command{Kind: CommandReviewed, Text: long}, "2001"},
		"nobody reviewed":                {Command{Kind: CommandReviewed, By: " "}, "initials"},
	} {
		t.Run(name, func(t *testing.T) {
			d := newDiary(t)
			c.c.At = noon
			if c.c.By == "" {
				c.c.By = "T.V."
			}
			before := *d.batch
			if err := Check(d.batch, c.c, noon); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
			if !reflect.DeepEqual(before, *d.batch) {
				t.Error("a refused command changed the batch")
			}
		})
	}
}

func TestAnActionSaysWhatIsMissing(t *testing.T) {
	d := newDiary(t)
	d.say(hour, Command{ID: "a1", Kind: CommandAction, Action: &ActionSaid{About: "C2", Cause: "bag in the seal", Control: "moved to __ at __"}})
	got := d.batch.Actions[0]
	if missing := got.Missing(); !reflect.DeepEqual(missing, []string{"under control", "prevention", "product"}) {
		t.Errorf("missing %q", missing)
	}
	if got.By != "T.V." || got.ID != "a1" || !got.Typed.Equal(noon.Add(hour)) {
		t.Errorf("entered as %+v", got)
	}
	full := ActionSaid{About: "C2", Cause: "a", Control: "b", Prevention: "c", Product: "d"}
	if full.Missing() != nil {
		t.Errorf("a whole action misses %q", full.Missing())
	}
}

func TestAHeldBatchIsHeldUntilADispositionEndsThat(t *testing.T) {
	d := warm(t)
	now := d.batch.Now
	if v := d.batch.Verdict(now); v != Held || !reflect.DeepEqual(d.batch.Holds(now), []string{"out-of-cold"}) {
		t.Fatalf("after a warm night: %q, %v", v, d.batch.Holds(now))
	}
	closing := Command{Kind: CommandClose, By: "T.V.", At: now, Typed: now, Text: "over"}
	if err := CheckStanding(d.batch, closing); err == nil || !strings.Contains(err.Error(), "is held (out-of-cold)") {
		t.Errorf("closing a held batch: %v", err)
	}
	d.decide(1, HoldForAdvice)
	if v := d.batch.Verdict(now); v != Held {
		t.Errorf("held for advice: %q", v)
	}
	if err := CheckStanding(d.batch, closing); err != nil {
		t.Errorf("closing what is held for advice, which is a decision: %v", err)
	}
	d.decide(2, Discard, "B")
	if v := d.batch.Verdict(now); v != Held {
		t.Errorf("one piece of two was discarded: %q", v)
	}
	d.decide(3, ReleaseFromHold, "A")
	if v := d.batch.Verdict(now); v != NotMet || d.batch.Holds(now) != nil {
		t.Errorf("decided on: %q, %v; the limit was still not met", v, d.batch.Holds(now))
	}
	release := Command{Kind: CommandDisposition, Disposition: ReleaseFromHold, Typed: now}
	if err := CheckStanding(d.batch, release); err == nil || !strings.Contains(err.Error(), "not held") {
		t.Errorf("releasing what is not held: %v", err)
	}
}

// What was decided holds for the deviation as it stood, and no further.
func TestAReleaseDoesNotCoverWhatComesAfterIt(t *testing.T) {
	d := warm(t)
	d.decide(1, ReleaseFromHold)
	if v := d.batch.Verdict(d.batch.Now); v != NotMet {
		t.Fatalf("released: %q", v)
	}
	d.line("slow", 20*hour+5*minute, 24*hour, 5*minute, 9, 9)
	if v := d.batch.Verdict(d.batch.Now); v != Held {
		t.Errorf("warm again for hours after the release: %q", v)
	}
}

// A recount in the order things happened comes to the same.
func TestDispositionsSurviveARecount(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, 10*hour, 5*minute, 8, 8)
	d.decide(1, ReleaseFromHold)
	fresh := Recount(d.log[0], byEventTime(d.log[1:]))
	if !reflect.DeepEqual(fresh.Dispositions, d.batch.Dispositions) || fresh.Verdict(d.batch.Now) != d.batch.Verdict(d.batch.Now) {
		t.Errorf("recounted: %+v, %q", fresh.Dispositions, fresh.Verdict(d.batch.Now))
	}
}

func TestPapersComeAfterTheClose(t *testing.T) {
	d := warm(t)
	d.decide(1, HoldForAdvice)
	d.say(21*hour, Command{Kind: CommandClose, Text: "sent to be looked at"})
	if d.batch.End.By != "T.V." || d.batch.End.Why != "sent to be looked at" {
		t.Errorf("closed by %+v", d.batch.End)
	}
	clocks, tracks, now := d.batch.Clocks(d.batch.Now), len(d.batch.Tracks), d.batch.Now
	samples := d.batch.Tracks[0].Samples
	if !d.batch.WaitsForReview() {
		t.Error("a closed batch waits for no review")
	}
	d.say(30*hour, Command{Kind: CommandNote, Text: "the advice came: use it"})
	d.say(31*hour, Command{Kind: CommandAction, Action: &ActionSaid{About: "out-of-cold", Cause: "a", Control: "b", Prevention: "c", Product: "d"}})
	d.decide(2, ReleaseFromHold)
	d.say(32*hour, Command{Kind: CommandReviewed, By: "M.O."})
	d.read("slow", 33*hour, 30)
	d.tick(34 * hour)
	if len(d.batch.Notes) != 1 || len(d.batch.Actions) != 1 || len(d.batch.Dispositions) != 2 || d.batch.WaitsForReview() {
		t.Errorf("%d notes, %d actions, %d dispositions, waits %v", len(d.batch.Notes), len(d.batch.Actions), len(d.batch.Dispositions), d.batch.WaitsForReview())
	}
	if !reflect.DeepEqual(clocks, d.batch.Clocks(noon.Add(40*hour))) || !d.batch.Now.Equal(now) || len(d.batch.Tracks) != tracks || d.batch.Tracks[0].Samples != samples {
		t.Error("the clocks of a closed batch moved")
	}
	if v := d.batch.Verdict(now); v != NotMet {
		t.Errorf("released after the close: %q", v)
	}
}

func TestTheReviewIsSomebodyElses(t *testing.T) {
	d := newDiary(t)
	d.say(hour, Command{By: "A.B.", Kind: CommandAction, Action: &ActionSaid{About: "C2", Cause: "x"}})
	for by, want := range map[string]string{"T.V.": "began the batch", "A.B.": "wrote a corrective action", "M.O.": ""} {
		err := CheckReviewer(d.batch, Command{Kind: CommandReviewed, By: by})
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s: %v, want %q", by, err, want)
		}
	}
	if err := CheckReviewer(d.batch, Command{Kind: CommandNote, By: "T.V."}); err != nil {
		t.Errorf("a note is no review: %v", err)
	}
}

// Two people who read the record press the button together: one review stands. A minute
// later it may be read again, and after the close it has to be.
func TestOneReviewAMinute(t *testing.T) {
	d := newDiary(t)
	d.say(hour, Command{Kind: CommandReviewed, By: "M.O."})
	again := func(after time.Duration) error {
		return CheckStanding(d.batch, Command{Kind: CommandReviewed, By: "J.K.", Typed: d.batch.Reviews[0].Typed.Add(after)})
	}
	var no *Refusal
	if err := again(59 * time.Second); !errors.As(err, &no) || no.Already == nil || no.Already.By != "M.O." || no.Already.Kind != CommandReviewed {
		t.Errorf("the second of two: %v", err)
	}
	if err := again(time.Minute); err != nil {
		t.Errorf("a minute later: %v", err)
	}
	d.batch.Closed, d.batch.End.Typed = d.batch.Reviews[0].At, d.batch.Reviews[0].Typed.Add(time.Second)
	if err := again(30 * time.Second); err != nil {
		t.Errorf("closed since: %v", err)
	}
}
