package scenario

import (
	"fmt"
	"strings"
)

// A Problem is what is wrong in one line, and what to write instead.
type Problem struct {
	Line int // from 1
	What string
	Try  string
}

// Error names the line.
func (p *Problem) Error() string {
	text := fmt.Sprintf("line %d: %s", p.Line, p.What)
	if p.Try != "" {
		text += "; write " + p.Try
	}
	return text
}

// Problems are all that is wrong with a file, in order of the lines.
type Problems []*Problem

// Error has one line for each.
func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, one := range p {
		lines[i] = one.Error()
	}
	return strings.Join(lines, "\n")
}

// wrong is a problem of the line at hand, which is filled in later.
func wrong(try, format string, args ...any) error {
	return &Problem{What: fmt.Sprintf(format, args...), Try: try}
}
