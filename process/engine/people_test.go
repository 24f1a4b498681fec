package engine

import (
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/store"
)

// base lends a real database to the engine, as the daemon does.
type base struct{ *store.DB }

func (s base) StoredBatch(id string) (BatchRow, bool, error) {
	row, found, err := s.DB.Batch(id)
	return BatchRow{ID: row.ID, Open: row.Status == "open", Started: row.Started, Cursor: row.Cursor, State: row.State}, found, err
}

func (s base) Load() (Saved, error) {
	var saved Saved
	places, err := s.DB.Places()
	for _, p := range places {
		saved.Places = append(saved.Places, PlaceRow(p))
	}
	if err != nil {
		return saved, err
	}
	if saved.Alarms, err = s.DB.Alarms(); err != nil {
		return saved, err
	}
	saved.AlarmNumber, err = s.DB.LastAlarmNumber()
	return saved, err
}

func (s base) Update(fn func(Tx) error) error {
	return s.DB.Update(func(tx *store.Tx) error { return fn(baseTx{tx}) })
}

type baseTx struct{ *store.Tx }

func (t baseTx) SaveBatch(BatchRow) error { return errors.New("no batch in this house") }

func (t baseTx) Enqueue(m alerts.Message) error {
	_, err := t.Tx.Enqueue(m)
	return err
}

// stepped is a clock that a test sets.
type stepped struct{ now time.Time }

func (c *stepped) Now() time.Time                       { return c.now }
func (c *stepped) After(time.Duration) <-chan time.Time { return nil }

// A night is a house with one fridge and three people, driven by hand.
type night struct {
	t      *testing.T
	db     *store.DB
	clock  *stepped
	engine *Engine
	policy alerts.Policy
	said   int
}

var ten = time.Date(2031, 2, 4, 21, 0, 0, 0, time.UTC)

func newNight(t *testing.T) *night {
	path := filepath.Join(t.TempDir(), "flitch.db")
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	quiet := alerts.Quiet{From: 22 * time.Hour, To: 6*time.Hour + 30*time.Minute}
	n := &night{t: t, db: db, clock: &stepped{ten}, policy: alerts.Policy{
		Channels: []alerts.ChannelPolicy{{Name: "tv", Minimum: alerts.Tell}, {Name: "mo", Minimum: alerts.Tell}, {Name: "jk", Minimum: alerts.Ring}},
		Persons: []alerts.Person{{Initials: "T.V.", Channels: []string{"tv"}, Quiet: quiet},
			{Initials: "M.O.", Channels: []string{"mo"}, Quiet: quiet}, {Initials: "J.K.", Channels: []string{"jk"}}},
	}}
	n.start()
	return n
}

// start is also a restart: what was not written is evaluated again.
func (n *night) start() {
	probe := process.PlacedProbe{Probe: "bottle", Place: "alder", Placement: process.Product, Interval: time.Minute}
	e, err := New(Config{Store: base{n.db}, Clock: n.clock, Log: slog.New(slog.DiscardHandler), Catalogue: alerts.Catalogue(alerts.Wood),
		Policy: n.policy, Places: []*process.Place{process.NewPlace("alder", process.WhereFridge, []process.PlacedProbe{probe}, ten)}})
	if err != nil {
		n.t.Fatal(err)
	}
	n.engine = e
}

func (n *night) say(c process.Command) error {
	n.said++
	if c.ID == "" {
		c.ID = fmt.Sprint("said-", n.said)
	}
	return n.engine.serve(c, nil)
}

func (n *night) must(c process.Command) {
	n.t.Helper()
	if err := n.say(c); err != nil {
		n.t.Fatal(err)
	}
}

// until lets minutes pass, each with a reading of the fridge.
func (n *night) until(at time.Time, fridge float64, each func()) {
	n.t.Helper()
	for n.clock.now.Before(at) {
		n.clock.now = n.clock.now.Add(time.Minute)
		r := process.Reading{Probe: "bottle", Measured: n.clock.now, Received: n.clock.now, Value: fridge + float64(n.clock.now.Minute()%7)/100}
		if _, err := n.db.CommitIntake([]process.Reading{r}, nil); err != nil {
			n.t.Fatal(err)
		}
		if err := n.engine.catchUp(); err != nil {
			n.t.Fatal(err)
		}
		if err := n.engine.tickIfDue(); err != nil {
			n.t.Fatal(err)
		}
		if each != nil {
			each()
		}
	}
}

// messages are all that were queued: when, which way, what.
func (n *night) messages() (out []string) {
	for _, channel := range []string{"tv", "mo", "jk"} {
		due, err := n.db.DueMessages(channel, ten.AddDate(1, 0, 0), 1000)
		if err != nil {
			n.t.Fatal(err)
		}
		for _, m := range due {
			out = append(out, fmt.Sprintf("%s %s %s: %s", m.Due.Format("15:04"), channel, m.Kind, m.Subject))
		}
	}
	return out
}

func (n *night) journal() string {
	lines, err := n.db.Journal("")
	if err != nil {
		n.t.Fatal(err)
	}
	var b strings.Builder
	for _, l := range lines {
		fmt.Fprintf(&b, "%s %s %s %s\n", l.At.Format("15:04"), l.Kind, l.By, l.Text)
	}
	return b.String()
}

func fault(part string, value float64) process.Command {
	return process.Command{Kind: process.CommandFault, By: "flitch", Text: part, Value: value}
}

// tell is a whole night: the fridge warm and cold again, the broker away, an answer,
// a shelf, a morning.
func (n *night) tell(each func()) {
	at := func(h, m int) time.Time { return ten.Add(time.Duration(h)*time.Hour + time.Duration(m)*time.Minute) }
	n.must(process.Command{Kind: process.CommandDuty, By: "M.O.", Until: at(10, 0)})
	n.until(at(2, 0), 3, each)
	n.until(at(4, 0), 4.7, each)                                                    // C1 in the night
	n.must(fault(FaultBroker, 1))                                                   // B7 five minutes later
	n.until(at(4, 45), 4.7, each)                                                   // M.O., T.V., all
	n.must(process.Command{Kind: process.CommandAcknowledge, By: "J.K.", Alarm: 2}) //
	n.until(at(5, 0), 4.7, each)
	n.must(fault(FaultBroker, 0))
	n.until(at(11, 0), 3, each)
}

func TestStoryOfANightWithPeople(t *testing.T) {
	n := newNight(t)
	n.tell(nil)
	want := []string{
		"01:05 mo raised", "01:15 tv escalated", "01:30 mo escalated", "01:30 tv escalated", "01:30 jk escalated", "06:30 mo digest", "06:30 tv digest",
	}
	for _, w := range want {
		if !slices.ContainsFunc(n.messages(), func(m string) bool { return strings.HasPrefix(m, w) }) {
			t.Errorf("no message %q in\n%s", w, strings.Join(n.messages(), "\n"))
		}
	}
	for _, m := range n.messages() {
		if m < "06:30" && !strings.Contains(m, "RING") && !strings.Contains(m, "jk cleared") {
			t.Errorf("in the night: %s", m)
		}
	}
	journal := n.journal()
	for _, w := range []string{"duty M.O. M.O. has the duty until Wed 5 Feb 07:00 UTC", "; goes to M.O.", "nobody answered in 10 min; goes to T.V.",
		"goes to M.O., T.V., J.K.", "waits for the summary of T.V., M.O.", "06:30 summary flitch to T.V.: alarms 1", "07:00 duty flitch the duty of M.O. is over"} {
		if !strings.Contains(journal, w) {
			t.Errorf("the journal has no %q:\n%s", w, journal)
		}
	}
}

// A restart after any minute, with what was not yet written evaluated again, changes
// no message.
func TestRestartsChangeNoMessage(t *testing.T) {
	whole := newNight(t)
	whole.tell(nil)
	broken := newNight(t)
	broken.tell(broken.start)
	if a, b := whole.messages(), broken.messages(); len(a) == 0 || !slices.Equal(a, b) {
		t.Errorf("without restarts\n%s\nwith\n%s", strings.Join(a, "\n"), strings.Join(b, "\n"))
	}
}

func TestAShelfHidesPeopleNotTheRecord(t *testing.T) {
	n := newNight(t)
	n.until(ten.Add(40*time.Minute), 4.7, nil) // C1, number 1
	before := len(n.messages())
	n.must(process.Command{Kind: process.CommandShelve, By: "T.V.", Alarm: 1, Text: "loading", Until: ten.Add(3 * time.Hour)})
	n.start()
	n.until(ten.Add(80*time.Minute), 3, nil)    // over
	n.until(ten.Add(150*time.Minute), 4.7, nil) // and again, number 2
	if got := n.messages(); before == 0 || len(got) != before+2 {
		t.Errorf("%d messages before, then only two that it is over: %q", before, got)
	}
	all, err := n.db.Occurrences(store.OccurrenceFilter{})
	if err != nil || len(all) != 2 {
		t.Errorf("%d occurrences, %v; a shelf must not stop the record", len(all), err)
	}
	readings := 0
	err = n.db.EachReading([]string{"bottle"}, ten, ten.Add(24*time.Hour), func(int64, process.Reading) error { readings++; return nil })
	if err != nil || readings != 150 {
		t.Errorf("%d readings, %v", readings, err)
	}
	if journal := n.journal(); !strings.Contains(journal, "nobody told: on the shelf until") || !strings.Contains(journal, "alarm raised") {
		t.Errorf("the journal says\n%s", journal)
	}
	if journal := n.journal(); strings.Contains(journal, "on the shelf until 20") { // 2031-...: a time of the machine, in UTC
		t.Errorf("the end of the shelf is not on the clock of the house:\n%s", journal)
	}
	n.until(ten.Add(181*time.Minute), 4.7, nil)
	if journal := n.journal(); !strings.Contains(journal, "shelf ended flitch C1, fridge alder: no longer on the shelf (T.V.: loading)") ||
		!strings.Contains(journal, "alarm re-alarmed") {
		t.Errorf("the end of the shelf is missing:\n%s", journal)
	}
}

// A warm load is told of before its alarm can come.
func TestAShelfBeforeTheAlarmCame(t *testing.T) {
	n := newNight(t)
	n.until(ten.Add(5*time.Minute), 3, nil)
	n.must(process.Command{Kind: process.CommandShelve, By: "T.V.", Entry: "C1", Of: "alder", Text: "loading", Until: ten.Add(2 * time.Hour)})
	n.start()
	n.until(ten.Add(115*time.Minute), 4.7, nil)
	if got := n.messages(); len(got) != 0 {
		t.Errorf("told on the shelf: %q", got)
	}
	journal := n.journal()
	if !strings.Contains(journal, "C1, fridge alder: on the shelf until") || !strings.Contains(journal, "nobody told: on the shelf until") ||
		strings.Contains(journal, "waits for the summary") {
		t.Errorf("the journal says\n%s", journal)
	}
	n.until(ten.Add(125*time.Minute), 4.7, nil)
	if journal := n.journal(); !strings.Contains(journal, "alarm re-alarmed") || !strings.Contains(journal, "waits for the summary of T.V.") {
		t.Errorf("the shelf ended, it stands yet, and nobody hears of it:\n%s", journal)
	}
}

// A shelf of a place is one for what its probes tell of the same line.
func TestAShelfOfAPlaceHidesItsProbes(t *testing.T) {
	n := newNight(t)
	n.until(ten.Add(5*time.Minute), 3, nil)
	n.must(process.Command{Kind: process.CommandShelve, By: "T.V.", Entry: "B9", Of: "alder", Text: "new probes on the way", Until: ten.Add(2 * time.Hour)})
	n.must(process.Command{Kind: process.CommandChecked, By: "T.V.", Check: &process.CheckSaid{Probe: "bottle", Method: process.CheckIce, ReadC: 3}})
	n.until(ten.Add(10*time.Minute), 3, nil)
	if journal := n.journal(); !strings.Contains(journal, "B9 raised, probe bottle of fridge alder") || !strings.Contains(journal, "nobody told: on the shelf until") {
		t.Errorf("the journal says\n%s", journal)
	}
}

func TestPeoplesCommandsAreRefused(t *testing.T) {
	n := newNight(t)
	n.until(ten.Add(40*time.Minute), 4.7, nil)
	later := n.clock.now.Add(time.Hour)
	journal := n.journal()
	for _, c := range []process.Command{
		{Kind: process.CommandDuty, By: "X.X.", Until: later},
		{Kind: process.CommandDuty, By: "M.O."},
		{Kind: process.CommandShelve, By: "T.V.", Alarm: 1, Text: "loading"},
		{Kind: process.CommandShelve, By: "T.V.", Alarm: 1, Until: later},
		{Kind: process.CommandShelve, By: "T.V.", Alarm: 9, Text: "loading", Until: later},
		{Kind: process.CommandOut, By: "T.V.", Alarm: 1, Text: "seal", Until: later.AddDate(0, 0, 8)},
		{Kind: process.CommandShelve, By: "T.V.", Entry: "C77", Of: "alder", Text: "loading", Until: later},
		{Kind: process.CommandShelve, By: "T.V.", Entry: "C1", Text: "loading", Until: later},
		{Kind: process.CommandShelve, By: "T.V.", Entry: "C1", Of: "elm", Text: "loading", Until: later},
		{Kind: process.CommandShelve, By: "T.V.", Entry: "B2", Of: "probe bottle of fridge elm", Text: "loading", Until: later},
		{Kind: process.CommandShelve, By: "T.V.", Entry: "C1", Of: "alder", Text: "loading"},
		{Kind: process.CommandJudge, By: "T.V.", Alarm: 1, Text: "useful"}, // it never rang
		{Kind: process.CommandJudge, By: "T.V.", Alarm: 9, Text: "useful"},
	} {
		var refused *process.Refusal
		if err := n.say(c); !errors.As(err, &refused) || refused.Hint == "" {
			t.Errorf("%+v: %v", c, err)
		}
	}
	if after := n.journal(); after != journal {
		t.Errorf("something changed:\n%s", after)
	}
}

func TestJudgementsAreCounted(t *testing.T) {
	n := newNight(t)
	n.must(fault(FaultBroker, 1))
	n.until(ten.Add(10*time.Minute), 3, nil)
	n.must(process.Command{Kind: process.CommandJudge, By: "T.V.", Alarm: 1, Text: "late"})
	n.start()
	n.until(ten.Add(2*time.Hour), 3, nil) // it rings on
	if err := n.say(process.Command{Kind: process.CommandJudge, By: "M.O.", Alarm: 1, Text: "useful"}); err == nil {
		t.Error("judged twice")
	}
	rows, err := n.db.Alarms()
	if err != nil {
		t.Fatal(err)
	}
	if counts, err := Report(rows); err != nil || counts["B7"]["late"] != 1 || len(counts) != 1 {
		t.Errorf("%v, %v", counts, err)
	}
}
