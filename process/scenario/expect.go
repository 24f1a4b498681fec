package scenario

import (
	"regexp"
	"strconv"
	"strings"
	"time"

	"flitch/process"
)

// What an expectation is about.
const (
	ExpectAlarm     = "alarm"     // Name is raised, at Level if that is said
	ExpectLevel     = "level"     // only with Not: nothing reaches the phone at Level or louder
	ExpectOnly      = "only"      // nothing but Names reaches the phone at Level or louder
	ExpectFolded    = "folded"    // Name was raised and nobody told, because of another
	ExpectSummary   = "summary"   // Name is a line of a message that stands for several
	ExpectRefused   = "refused"   // what a person typed was not taken
	ExpectClock     = "clock"     // Name has the verdict
	ExpectVerdict   = "verdict"   // of the batch
	ExpectHappening = "happening" // the temperatures told of Name
)

// An Expectation is what should come of the night.
type Expectation struct {
	Kind     string
	Not      bool
	Ranged   bool
	From, To time.Duration // when Ranged: both belong to it
	Name     string
	Names    []string
	Level    string // ring, tell, note; empty: any
	Verdict  process.Verdict
}

const expectExample = `expect 03:05..03:25 H3 ring, expect no H5, expect no tell, expect only H3 ring, expect folded H4, expect refused, ` +
	`expect clock "chill A" not met, expect verdict held, or expect happening stall`

var alarmName = regexp.MustCompile(`^[A-Z]{1,3}[0-9]{1,3}[a-z]?$`)

func isLevel(text string) bool { return text == "ring" || text == "tell" || text == "note" }

// expectation reads what comes after "expect".
func (p *parser) expectation() (Item, error) {
	e := Expectation{Not: p.is("no")}
	var err error
	if from, to, ranged := strings.Cut(p.peek(), ".."); ranged {
		if err = p.within(&e, from, to); err != nil {
			return nil, err
		}
	}
	if e.Kind, err = p.next("what is expected", expectExample); err != nil {
		return nil, err
	}
	if err := p.expected(&e); err != nil {
		return nil, err
	}
	switch {
	case e.Not && (e.Kind == ExpectOnly || e.Kind == ExpectClock || e.Kind == ExpectVerdict || e.Kind == ExpectFolded):
		return nil, wrong(expectExample, "no %s cannot be expected", e.Kind)
	case e.Ranged && (e.Kind == ExpectClock || e.Kind == ExpectVerdict):
		return nil, wrong("it without a time: what stands at the end counts", "a %s at a time", e.Kind)
	}
	return e, nil
}

func (p *parser) within(e *Expectation, from, to string) (err error) {
	p.left = p.left[1:]
	e.Ranged = true
	if e.From, err = p.clock().moment(from); err != nil {
		return err
	}
	e.To, err = p.clock().until(to, e.From)
	return err
}

func (p *parser) expected(e *Expectation) (err error) {
	switch word := e.Kind; {
	case alarmName.MatchString(word):
		e.Kind, e.Name = ExpectAlarm, word
		if isLevel(p.peek()) {
			e.Level, err = p.next("a level", "")
		}
	case isLevel(word) && e.Not:
		e.Kind, e.Level = ExpectLevel, word
	case word == ExpectOnly:
		for alarmName.MatchString(p.peek()) {
			e.Names = append(e.Names, p.peek())
			p.left = p.left[1:]
		}
		if e.Level, err = p.next("a level", "expect only H3 ring"); err == nil && (len(e.Names) == 0 || !isLevel(e.Level)) {
			err = wrong("expect only H3 ring", "only which alarms, and how loud?")
		}
	case word == ExpectFolded, word == ExpectSummary:
		example := "expect " + word + " H5"
		if e.Name, err = p.next("an alarm", example); err == nil && !alarmName.MatchString(e.Name) {
			err = wrong(example, "%q is no alarm", e.Name)
		}
	case word == ExpectRefused:
	case word == ExpectClock:
		if e.Name, err = p.free("a clock", `expect clock "chill A" met`); err == nil {
			e.Verdict, err = p.verdict()
		}
	case word == ExpectVerdict:
		e.Verdict, err = p.verdict()
	case word == ExpectHappening:
		e.Name, err = p.name("what happened", "expect happening stall")
	default:
		err = wrong(expectExample, "%q cannot be expected", word)
	}
	return err
}

// verdict takes met, not met, not measured, held or running.
func (p *parser) verdict() (process.Verdict, error) {
	var text []string
	for !p.empty() && len(text) < 2 {
		text = append(text, p.peek())
		p.left = p.left[1:]
	}
	switch v := process.Verdict(strings.Join(text, " ")); v {
	case process.Met, process.NotMet, process.NotMeasured, process.Held:
		return v, nil
	case "running":
		return process.Running, nil
	}
	return "", wrong("met, not met, not measured, held or running", "%q is no verdict", strings.Join(text, " "))
}

func (e Expectation) text(c clock) string {
	parts := []string{"expect"}
	if e.Not {
		parts = append(parts, "no")
	}
	if e.Ranged {
		parts = append(parts, c.text(e.From)+".."+c.untilText(e.To, e.From))
	}
	switch e.Kind {
	case ExpectAlarm:
		parts = append(parts, e.Name)
	case ExpectLevel:
	case ExpectOnly:
		parts = append(append(parts, e.Kind), e.Names...)
	case ExpectClock:
		parts = append(parts, e.Kind, strconv.Quote(e.Name), verdictText(e.Verdict))
	case ExpectVerdict:
		parts = append(parts, e.Kind, verdictText(e.Verdict))
	case ExpectRefused:
		parts = append(parts, e.Kind)
	default:
		parts = append(parts, e.Kind, e.Name)
	}
	if e.Level != "" {
		parts = append(parts, e.Level)
	}
	return strings.Join(parts, " ")
}

func verdictText(v process.Verdict) string {
	if v == process.Running {
		return "running"
	}
	return string(v)
}
