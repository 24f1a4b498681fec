package scenario

import (
	"errors"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"flitch/process"
)

// maxProblems bounds what is said of a file that is something else altogether.
const maxProblems = 20

// A parser reads one line after the other.
type parser struct {
	Scenario
	words
	number   int
	newest   time.Duration // of the lines in order of time
	body     bool          // the head is over
	said     map[string]bool
	problems Problems
}

// Parse reads a scenario. The error is Problems: all that is wrong, by line.
func Parse(text string) (*Scenario, error) {
	p := &parser{said: map[string]bool{}}
	p.Batch, p.By, p.Seed, p.Fuel = defaultBatch, defaultBy, defaultSeed, defaultFuel
	for line := range strings.Lines(strings.TrimPrefix(text, "\ufeff")) {
		p.number++
		p.note(p.line(strings.TrimSpace(line)))
		if len(p.problems) == maxProblems {
			return nil, p.problems
		}
	}
	if !p.body {
		p.note(p.headOver())
	}
	if len(p.problems) == 0 {
		p.checkSeries()
	}
	if len(p.problems) > 0 {
		return nil, p.problems
	}
	s := p.Scenario
	return &s, nil
}

// note keeps what is wrong with the line at hand.
func (p *parser) note(err error) { p.noteAt(p.number, err) }

func (p *parser) noteAt(line int, err error) {
	if one, ok := errors.AsType[*Problem](err); ok {
		one.Line = max(line, 1)
		p.problems = append(p.problems, one)
	}
}

func (p *parser) line(text string) error {
	if comment, ok := strings.CutPrefix(text, "#"); ok || text == "" {
		if ok {
			p.comment(strings.TrimSpace(comment))
		}
		return nil
	}
	if !utf8.ValidString(text) {
		return wrong("the file again as UTF-8", "this is not text")
	}
	var err error
	if p.words, err = split(text); err != nil {
		return err
	}
	if head, ok := heads[p.peek()]; ok {
		return p.headLine(head)
	}
	if !p.body {
		p.body = true
		p.note(p.headOver())
	}
	item, err := p.item()
	if err == nil {
		err = p.end()
	}
	if err != nil {
		return err
	}
	p.Lines = append(p.Lines, Line{p.number, item})
	return nil
}

func (p *parser) comment(text string) {
	text = strings.ToValidUTF8(text, "?")
	if p.body {
		p.Lines = append(p.Lines, Line{p.number, Comment(text)})
		return
	}
	p.Comments = append(p.Comments, text)
}

const itemExample = "a time and what happened: 03:20 acknowledged H3, or from 02:00 to 05:00 grate 110C -> 60C, or expect no H5"

// item reads a line of the body.
func (p *parser) item() (Item, error) {
	switch {
	case p.is("expect"):
		return p.expectation()
	case p.is("from"):
		return p.stretch()
	}
	text, err := p.next("a time", itemExample)
	if err != nil {
		return nil, err
	}
	if !strings.Contains(text, ":") {
		return nil, wrong(itemExample, "%q begins no line that is known", text)
	}
	at, err := p.clock().moment(text)
	if err != nil {
		return nil, err
	}
	if err := p.inOrder(at); err != nil {
		return nil, err
	}
	if p.is("reading") {
		return p.single(at, false)
	}
	if p.is("spike") {
		return p.single(at, true)
	}
	return p.event(at)
}

// inOrder complains about a line that is before the one above it.
func (p *parser) inOrder(at time.Duration) error {
	if at < p.newest {
		return wrong("the lines in order of time; a time after the first 24 hours says its day: 2/02:10",
			"%s is before %s of the line above", p.clock().text(at), p.clock().text(p.newest))
	}
	p.newest = at
	return nil
}

// placed takes the name of a probe.
func (p *parser) placed() (process.PlacedProbe, error) {
	name, err := p.next("a probe", itemExample)
	if err != nil {
		return process.PlacedProbe{}, err
	}
	probe := p.probe(name)
	if probe == nil {
		return process.PlacedProbe{}, wrong("one of the probes of the head: "+p.probeNames(), "there is no probe %q", name)
	}
	return *probe, nil
}

func (p *parser) probeNames() string {
	names := make([]string, len(p.Probes))
	for i, probe := range p.Probes {
		names[i] = probe.Probe
	}
	slices.Sort(names)
	return strings.Join(names, ", ")
}
