package decode

import (
	"errors"
	"strconv"
)

// Class groups the problems for counting. The set is small and fixed.
type Class string

// The classes of problems.
const (
	TooLarge  Class = "too large"
	NotText   Class = "not text"
	NotJSON   Class = "not json"
	NoValue   Class = "no value" // empty, null, or nothing at the path
	NotNumber Class = "not a number"
	NoTime    Class = "no time" // and without it nobody knows when it was measured
	Unknown   Class = "other"

	Retained    Class = "retained"     // a copy of unknown age
	NotProtobuf Class = "not protobuf" // and Sparkplug B is
	NoBirth     Class = "no birth"     // of a Sparkplug node: what it sends cannot be resolved
	WrongUnit   Class = "wrong unit"
)

// A Problem is why a payload gave no value, in words for a person.
type Problem struct {
	Class Class
	Text  string
}

// Error returns the words.
func (p *Problem) Error() string { return p.Text }

// ClassOf returns the class of an error made by this package, else Unknown.
func ClassOf(err error) Class {
	var p *Problem
	if errors.As(err, &p) {
		return p.Class
	}
	return Unknown
}

func problem(c Class, text string) *Problem { return &Problem{Class: c, Text: text} }

// quoteMax keeps a quoted piece of payload readable on one line.
const quoteMax = 40

// quoted returns the start of s in quotes, safe to print.
func quoted(s string) string {
	if short := cut(s); len(short) < len(s) {
		return strconv.Quote(short) + "..."
	}
	return strconv.Quote(s)
}

// cut returns the start of s.
func cut(s string) string { return s[:min(len(s), quoteMax)] }
