package config

import (
	"fmt"
	"regexp"
	"strings"
)

var (
	plainName = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]*$`)
	notPlain  = regexp.MustCompile(`[^a-z0-9._]+`)
)

// names keeps the names of one kind of thing and where each was first used.
type names struct {
	lines map[string]int
}

// take reads the name of a table. Names are typed on a command line and stand in
// links, so they are plain; people read the title.
func (n *names) take(t *table, example string) string {
	name := t.need("name", example)
	if name == "" {
		return ""
	}
	if !plainName.MatchString(name) {
		plain := strings.Trim(notPlain.ReplaceAllString(strings.ToLower(name), "-"), "-._")
		if plain == "" {
			plain = example
		}
		t.problem("name", name, fmt.Sprintf("%q has more than small letters, digits, - . _", name), fmt.Sprintf("name = %q", plain))
	}
	n.once(t, name)
	return name
}

// once reports a name that was used before.
func (n *names) once(t *table, name string) {
	if n.lines == nil {
		n.lines = map[string]int{}
	}
	if line, used := n.lines[name]; used {
		t.problem("name", name, fmt.Sprintf("%q is used before, on line %d", name, line), fmt.Sprintf("name = %q", name+"-2"))
		return
	}
	n.lines[name] = t.line("name")
}
