package config

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
)

// A Person is somebody who can be told. Without any, every channel is told of
// everything.
type Person struct {
	Name     string
	Initials string   // as signed: "M.O."
	Channels []string // names of channels, at least one if the house has any
	Role     string   // "curer" or "reviewer": what may be done after a sign-in
	Quiet    Quiet
}

// Quiet is the part of the day in which what can wait does: wall-clock times of the
// site, counted from midnight. The same time twice means that there is none.
type Quiet struct {
	From time.Duration
	To   time.Duration
}

// readPersons reads the persons in the order they are called.
func readPersons(tables []*table, channels []Channel) []Person {
	signed := map[string]int{} // initials, and the line they were first on
	var persons []Person
	for _, t := range tables {
		p := Person{Name: t.need("name", "Marta Oldroyd"), Initials: t.need("initials", "M.O."), Quiet: readQuiet(t), Role: t.choice("role", "curer", "curer", "reviewer")}
		if line, used := signed[p.Initials]; used && p.Initials != "" {
			t.problem("initials", p.Initials, fmt.Sprintf("%q are those of somebody else, on line %d", p.Initials, line), `initials = "M.O.2"`)
		} else {
			signed[p.Initials] = t.line("initials")
		}
		p.Channels = readPersonChannels(t, channels)
		t.finish()
		persons = append(persons, p)
	}
	return persons
}

// readPersonChannels asks for at least one channel that exists: who cannot be
// reached would be called for nothing. In a house without channels nobody is called, and
// a person is who signs.
func readPersonChannels(t *table, channels []Channel) (names []string) {
	var known []string
	for _, c := range channels {
		known = append(known, c.Name)
	}
	example := `channels = ["tv-phone"]`
	if len(known) > 0 {
		example = fmt.Sprintf("channels = [%q]", known[0])
	}
	value, ok := t.get("channels")
	if !ok && len(channels) == 0 {
		return nil
	}
	if !ok {
		t.missing("channels", example)
		return nil
	}
	list, ok := value.([]any)
	if !ok {
		t.problem("channels", shown(value), "is "+describe(value)+", want a list of names", example)
		return nil
	}
	if len(list) == 0 {
		t.problem("channels", "", "is empty: nobody could reach this person", example)
	}
	for _, item := range list {
		name, ok := item.(string)
		switch {
		case !ok:
			t.problem("channels", shown(item), fmt.Sprintf("holds %s (%s), want names", describe(item), shown(item)), example)
		case !slices.Contains(known, name):
			if near := nearest(name, known); near != "" {
				example = fmt.Sprintf("channels = [%q]", near)
			}
			t.problem("channels", name, fmt.Sprintf("there is no channel %q", name), example+", or a [[channel]] of that name")
		case !slices.Contains(names, name):
			names = append(names, name)
		}
	}
	if len(names) > 0 && !slices.ContainsFunc(channels, func(c Channel) bool { return !c.Backup && slices.Contains(names, c.Name) }) {
		t.problem("channels", names[0], "holds only backups, which are used when another channel has failed", "one more, or backup = false there")
	}
	return names
}

var (
	quietSpan = regexp.MustCompile(`^\s*(\d{1,2}:\d{2})\s*(?:-|–|to)\s*(\d{1,2}:\d{2})\s*$`)
	quietHint = `quiet = "22:00-06:30"`
)

// readQuiet reads "22:00-06:30". Nothing typed is never quiet.
func readQuiet(t *table) Quiet {
	text := strings.TrimSpace(t.text("quiet"))
	if text == "" {
		return Quiet{}
	}
	parts := quietSpan.FindStringSubmatch(text)
	if parts == nil {
		t.problem("quiet", text, fmt.Sprintf("%q is not two times of the day with - between them", text), quietHint)
		return Quiet{}
	}
	var q Quiet
	for i, into := range []*time.Duration{&q.From, &q.To} {
		clock, err := time.Parse("15:04", parts[i+1])
		if err != nil {
			t.problem("quiet", text, fmt.Sprintf("%s is not a time of the day: the last is 23:59", parts[i+1]), quietHint)
			return Quiet{}
		}
		*into = time.Duration(clock.Hour())*time.Hour + time.Duration(clock.Minute())*time.Minute
	}
	if q.From == q.To {
		t.problem("quiet", text, "begins and ends at the same time", quietHint+", or take the line out")
	}
	return q
}
