package config

import (
	"bytes"
	"fmt"

	"github.com/pelletier/go-toml/v2/unstable"
)

// An index knows the line of every table and key, by a path such as
// "probe[1].topic". Values come from the ordinary decoder, which forgets where
// it found them; problems found later, between two keys, still need the line.
type index map[string]int

// indexOf reads the lines of a document that the decoder has already accepted.
func indexOf(data []byte) index {
	walk := walk{lines: index{}, counts: map[string]int{}, data: data}
	walk.parser.Reset(data)
	here := ""
	for walk.parser.NextExpression() {
		switch e := walk.parser.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			here = walk.header(e)
		case unstable.KeyValue:
			walk.pair(here, e)
		}
	}
	return walk.lines
}

// maxPath is where the index stops following, in bytes. No key of ours is near
// it, and paths of a file made to be deep would take minutes to write down.
const maxPath = 200

type walk struct {
	parser unstable.Parser
	lines  index
	counts map[string]int // arrays of tables: elements so far

	// Keys come in the order of the text, so lines are counted on from the last
	// key; the parser's own Shape counts from the top for each.
	data   []byte
	offset int
	breaks int
}

// header notes a [table] or [[table]] and returns its path.
func (w *walk) header(e *unstable.Node) string {
	path := ""
	for key := e.Key(); key.Next() && len(path) < maxPath; {
		path = join(path, string(key.Node().Data))
		if key.IsLast() && e.Kind == unstable.ArrayTable {
			w.counts[path]++
		}
		line := w.line(key.Node())
		w.note(path, line)
		if n := w.counts[path]; n > 0 {
			path = element(path, n-1)
			w.note(path, line)
		}
	}
	return path
}

// pair notes a key and, for inline tables and lists, what is inside its value.
func (w *walk) pair(here string, e *unstable.Node) {
	for key := e.Key(); key.Next() && len(here) < maxPath; {
		here = join(here, string(key.Node().Data))
		w.note(here, w.line(key.Node()))
	}
	w.inside(here, e.Value())
}

func (w *walk) inside(path string, value *unstable.Node) {
	if len(path) >= maxPath {
		return
	}
	children := value.Children()
	switch value.Kind {
	case unstable.InlineTable:
		for children.Next() {
			w.pair(path, children.Node())
		}
	case unstable.Array:
		for i := 0; children.Next(); i++ {
			w.note(element(path, i), w.lines[path])
			w.inside(element(path, i), children.Node())
		}
	}
}

// note keeps the first line a path was seen on.
func (w *walk) note(path string, line int) {
	if _, known := w.lines[path]; !known {
		w.lines[path] = line
	}
}

// line returns the line of a key. It is asked once for each key, in order.
func (w *walk) line(key *unstable.Node) int {
	at := int(key.Raw.Offset)
	w.breaks += bytes.Count(w.data[w.offset:at], []byte("\n"))
	w.offset = at
	return w.breaks + 1
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func element(path string, i int) string { return fmt.Sprintf("%s[%d]", path, i) }
