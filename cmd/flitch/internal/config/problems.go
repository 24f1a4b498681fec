package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// A Problem is one thing wrong with the file.
type Problem struct {
	Path  string // file, when it is not the one all the others are of
	Line  int    // counted from 1
	Key   string // "probe.interval"; empty when the text itself cannot be read
	Value string // as typed; empty when it may be a secret or is missing
	What  string // what is wrong
	Hint  string // what to type instead
}

// Problems is every problem of one file, in the order of its lines.
type Problems struct {
	Path string
	List []Problem
}

// Error returns one line for each problem: path:line: key: what; type: hint.
func (p *Problems) Error() string {
	lines := make([]string, len(p.List))
	for i, problem := range p.List {
		lines[i] = fmt.Sprintf("%s:%s", cmp.Or(problem.Path, p.Path), problem)
	}
	return strings.Join(lines, "\n")
}

// String returns the problem without the path of the file.
func (p Problem) String() string {
	text := fmt.Sprintf("%d: ", p.Line)
	if p.Key != "" {
		text += p.Key + ": "
	}
	text += p.What
	if p.Hint != "" {
		text += "; type: " + p.Hint
	}
	return text
}

// inOrder sorts by file and line; problems of one line keep the order they were found
// in.
func inOrder(problems []Problem) []Problem {
	slices.SortStableFunc(problems, func(a, b Problem) int { return cmp.Or(strings.Compare(a.Path, b.Path), a.Line-b.Line) })
	return problems
}
