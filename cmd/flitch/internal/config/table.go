package config

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// A table is one [table] of the document. Whoever reads it asks for each key it
// knows; finish then reports the keys nobody asked for.
type table struct {
	doc     *document
	path    string // in the index of lines: "probe[1]"
	title   string // as a person says it: "probe"
	values  map[string]any
	present bool // false: the document has no such table
	loose   bool // which keys belong here is not known: none is called unknown
	asked   []string
	absent  []Problem // missing keys, held back until finish
}

// get returns the value of a key and remembers that the key is known.
func (t *table) get(key string) (any, bool) {
	if !slices.Contains(t.asked, key) {
		t.asked = append(t.asked, key)
	}
	value, ok := t.values[key]
	return value, ok
}

// has reports whether the key is there, without asking for it.
func (t *table) has(key string) bool {
	_, ok := t.values[key]
	return ok
}

// line returns the line of a key, or of the table when the key is not there.
func (t *table) line(key string) int {
	if line, ok := t.doc.lines[join(t.path, key)]; ok {
		return line
	}
	if line, ok := t.doc.lines[t.path]; ok {
		return line
	}
	return 1
}

// problem reports something wrong with a key.
func (t *table) problem(key, value, what, hint string) {
	t.doc.problems = append(t.doc.problems, t.about(key, value, what, hint))
}

// doubt reports something that is wrong and no reason not to start.
func (t *table) doubt(key, value, what, hint string) {
	t.doc.doubts = append(t.doc.doubts, t.about(key, value, what, hint))
}

func (t *table) about(key, value, what, hint string) Problem {
	return Problem{Path: t.doc.called, Line: t.line(key), Key: join(t.title, key), Value: value, What: what, Hint: hint}
}

// missing reports a key that has to be there, unless it turns out to be there
// with a slip of the pen.
func (t *table) missing(key, hint string) {
	if !t.present {
		hint += fmt.Sprintf("   under [%s]", t.title)
	}
	t.absent = append(t.absent, t.about(key, "", "missing", hint))
}

// foreign reports keys that exist but have no meaning here, and why.
func (t *table) foreign(why string, keys ...string) {
	for _, key := range keys {
		if _, ok := t.get(key); ok {
			t.problem(key, "", why, "nothing, take the line out")
		}
	}
}

// finish reports the keys that nobody asked for and those that are missing.
func (t *table) finish() {
	var meant []string
	for _, key := range slices.Sorted(maps.Keys(t.values)) {
		if t.loose || slices.Contains(t.asked, key) {
			continue
		}
		near := nearest(key, t.asked)
		meant = append(meant, near)
		t.unknown(key, near)
	}
	for _, problem := range t.absent {
		if !slices.Contains(meant, strings.TrimPrefix(problem.Key, t.title+".")) {
			t.doc.problems = append(t.doc.problems, problem)
		}
	}
}

// unknown never shows the value: it may be a password.
func (t *table) unknown(key, near string) {
	if near != "" {
		t.problem(key, "", fmt.Sprintf("unknown key, did you mean %s?", near), near)
		return
	}
	known := slices.DeleteFunc(slices.Clone(t.asked), func(k string) bool { return strings.HasSuffix(k, "_env") })
	t.problem(key, "", "unknown key", "one of "+strings.Join(known, ", "))
}

// table returns the table under a key; an empty one when it is not there.
func (t *table) table(key string) *table {
	child := &table{doc: t.doc, path: join(t.path, key), title: join(t.title, key)}
	value, ok := t.get(key)
	if !ok {
		return child
	}
	if child.values, child.present = value.(map[string]any); !child.present {
		child.present = true
		t.problem(key, "", "is "+describe(value)+", not a table", "["+child.title+"]")
	}
	return child
}

// tables returns the [[tables]] under a key, in the order of the file. A single
// [table] is reported and then read like the first of several, so that nothing
// that refers to it is called wrong as well.
func (t *table) tables(key string) []*table {
	value, ok := t.get(key)
	if !ok {
		return nil
	}
	path, title := join(t.path, key), join(t.title, key)
	list, several := value.([]any)
	if !several {
		t.problem(key, "", "is "+describe(value)+", but there can be several", "[["+title+"]]")
		list = []any{value}
	}
	var children []*table
	for i, item := range list {
		child := &table{doc: t.doc, path: path, title: title, present: true}
		if several {
			child.path = element(path, i)
		}
		if child.values, ok = item.(map[string]any); ok {
			children = append(children, child)
		} else if several {
			t.problem(key, "", "holds "+describe(item)+", not a table", "[["+title+"]]")
		}
	}
	return children
}
