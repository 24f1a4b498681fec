package engine

import (
	"errors"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/store"
)

// failing is the database of a disk that takes and gives nothing while err is set.
type failing struct {
	base
	write, read error
}

func (f *failing) Update(fn func(Tx) error) error {
	if f.write != nil {
		return f.write
	}
	return f.base.Update(fn)
}

func (f *failing) NextInputs(after int64, most int) ([]process.Input, error) {
	if f.read != nil {
		return nil, f.read
	}
	return f.base.NextInputs(after, most)
}

// badNight is a night whose engine stands on such a disk, and what it says past it.
func badNight(t *testing.T) (n *night, disk *failing, said *[]alerts.Message) {
	n = newNight(t)
	disk, said = &failing{base: base{n.db}}, new([]alerts.Message)
	n.engine.Store, n.engine.Unstored = disk, func(m alerts.Message) { *said = append(*said, m) }
	return n, disk, said
}

// loop does what Run does between two waits.
func (n *night) loop() {
	n.engine.look(n.engine.catchUp())
	for len(n.engine.memory.heard) > 0 {
		n.engine.recall(<-n.engine.memory.heard)
	}
	n.engine.look(n.engine.tickIfDue())
	n.engine.passTime()
}

// A ring whose transaction fails goes out at once, once; when the disk is back it is
// stored under the number it had.
func TestARingThatCannotBeWrittenIsSent(t *testing.T) {
	n, disk, said := badNight(t)
	n.must(process.Command{Kind: process.CommandFault, Text: FaultBroker, Value: 1, By: "flitch"})
	n.until(ten.Add(4*time.Minute), 3, nil)
	for range 3 { // the minute in which it rings is stored, what comes of it is not
		n.clock.now = n.clock.now.Add(time.Minute)
		if err := disk.base.Update(func(tx Tx) error { _, err := tx.AppendTick(n.clock.now); return err }); err != nil {
			t.Fatal(err)
		}
		disk.write = errors.New("no space")
		n.loop()
	}
	if len(*said) == 0 || (*said)[0].Entry != "B7" || (*said)[0].Alarm == 0 {
		t.Fatalf("said past the database: %+v", *said)
	}
	told := len(*said)
	number := (*said)[0].Alarm
	n.loop()
	if len(*said) != told {
		t.Errorf("%d messages, then %d: said twice", told, len(*said))
	}
	disk.write = nil
	n.clock.now = n.clock.now.Add(lastPause)
	n.loop()
	stored, err := n.db.MessagesOf(number)
	if err != nil || len(stored) == 0 || stored[0].Entry != "B7" {
		t.Errorf("stored as alarm %d: %+v, %v", number, stored, err)
	}
	if n.engine.unwritten != nil || n.engine.memory.house != nil {
		t.Errorf("after the end: %v, in memory %v", n.engine.unwritten, n.engine.memory.house != nil)
	}
}

// While nothing can be stored or read, what time brings rings from memory, without a number
// and without a trace, and what is heard is evaluated: a fridge that gets warm. Later the
// log is evaluated as if nothing had been.
func TestWhatIsHeardIsEvaluatedInMemory(t *testing.T) {
	for name, fail := range map[string]func(*failing){
		"full":    func(f *failing) { f.write = errors.New("no space") },
		"damaged": func(f *failing) { f.read = errors.New("malformed") },
	} {
		t.Run(name, func(t *testing.T) {
			n, disk, said := badNight(t)
			n.until(ten.Add(5*time.Minute), 3, nil)
			n.must(fault(FaultBroker, 1))
			before := n.engine.house.board.number
			fail(disk)
			n.loop()
			var held []process.Reading
			for range 40 {
				n.clock.now = n.clock.now.Add(time.Minute)
				r := process.Reading{Probe: "bottle", Measured: n.clock.now, Received: n.clock.now, Value: 4.8 + float64(n.clock.now.Minute()%7)/100}
				held = append(held, r)
				n.engine.Heard([]process.Reading{r}, disk.write == nil)
				n.loop()
			}
			if len(*said) == 0 || (*said)[0].Entry != "B7" || (*said)[0].Alarm != 0 {
				t.Fatalf("said past the database: %+v", *said)
			}
			if n.engine.house.board.number != before || n.engine.memory.house == nil || !n.engine.memory.house.board.heard("C1", "fridge alder") {
				t.Error("the house itself has changed, or the warm fridge was not seen in memory")
			}
			disk.write, disk.read = nil, nil
			if _, err := n.db.CommitIntake(held, nil); err != nil {
				t.Fatal(err)
			}
			for range 2 {
				n.clock.now = n.clock.now.Add(time.Minute)
				n.loop()
			}
			if n.engine.memory.house != nil {
				t.Error("it still evaluates in memory")
			}
			raised, err := n.db.Occurrences(store.OccurrenceFilter{Active: true})
			if err != nil || len(raised) != 2 {
				t.Errorf("stored: %+v, %v; want C1 and B7", raised, err)
			}
			t.Logf("1 fault: %s; %d rings from memory, %d alarms stored later", name, len(*said), len(raised))
		})
	}
}

// The line of a gap stands in the journal, and changes no alarm.
func TestAGapIsALineOfTheJournal(t *testing.T) {
	n := newNight(t)
	n.must(process.Command{Kind: process.CommandFault, Text: FaultDisk, By: "flitch", At: ten, Until: ten.Add(time.Minute), Of: "nothing could be stored from a to b: 3, 1"})
	lines, err := n.db.Journal("")
	if err != nil || len(lines) != 1 || lines[0].Kind != "gap" || !strings.Contains(lines[0].Text, "3, 1") {
		t.Errorf("journal %+v, %v", lines, err)
	}
	if len(n.engine.house.faults) != 0 {
		t.Errorf("faults %v", n.engine.house.faults)
	}
}
