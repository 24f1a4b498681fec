package scenario

import (
	"fmt"
	"strings"
	"time"
)

// A Person has a phone, and may have hours in which it is quiet: times of day, over
// midnight when To is before From; the same twice is never.
type Person struct {
	Initials string
	From, To time.Duration
}

const personExample = "person T.V., or person T.V. quiet 21:00..06:00"

func (p *parser) person(string) error {
	initials, err := p.free("the initials of a person", personExample)
	if err != nil {
		return err
	}
	one := Person{Initials: initials}
	for _, known := range p.Persons {
		if known.Initials == initials {
			return wrong("other initials", "there are two persons %s", initials)
		}
	}
	if p.is("quiet") {
		if err := p.quiet(&one); err != nil {
			return err
		}
	}
	p.Persons = append(p.Persons, one)
	return nil
}

func (p *parser) quiet(one *Person) error {
	text, err := p.next("quiet hours", personExample)
	if err != nil {
		return err
	}
	from, to, _ := strings.Cut(text, "..")
	var wrongFrom, wrongTo error
	one.From, wrongFrom = timeOfDay(from)
	one.To, wrongTo = timeOfDay(to)
	if wrongFrom != nil || wrongTo != nil || one.From == one.To {
		return wrong(personExample, "%q are no quiet hours", text)
	}
	return nil
}

func (q Person) text() string {
	text := "person " + quoteIf(q.Initials)
	if q.From != q.To {
		text += fmt.Sprintf(" quiet %s..%s", dayText(q.From), dayText(q.To))
	}
	return text
}

// dayText writes a time of day.
func dayText(at time.Duration) string { return clock{}.write(at, true) }
