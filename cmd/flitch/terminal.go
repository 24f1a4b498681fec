package main

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"time"
)

// A terminal is what a command sees of the outside world.
type terminal struct {
	out    io.Writer // answers
	err    io.Writer // complaints: no capital, no full stop, no stack
	now    func() time.Time
	env    func(name string) string
	in     *os.File // answers to questions; nil: nobody is there
	client *http.Client
}

// Exit codes.
const (
	exitFine    = 0
	exitProblem = 1 // the command was understood and could not be done
	exitUsage   = 2 // the command line is wrong; nothing was tried
)

// A complaint is an error for the person at the keyboard.
type complaint struct {
	what  string // what is wrong
	try   string // what to type or do instead
	usage bool   // the command line is wrong
}

// Error returns what is wrong, and what to try if that is known.
func (c *complaint) Error() string {
	if c.try == "" {
		return c.what
	}
	return c.what + "; try: " + c.try
}

// problem complains about something that could not be done.
func problem(try, format string, args ...any) error {
	return &complaint{what: fmt.Sprintf(format, args...), try: try}
}

// misuse complains about the command line.
func misuse(try, format string, args ...any) error {
	return &complaint{what: fmt.Sprintf(format, args...), try: try, usage: true}
}

// fail prints the error and returns the exit code.
func (t terminal) fail(err error) int {
	fmt.Fprintf(t.err, "flitch: %v\n", err)
	if c, ok := errors.AsType[*complaint](err); ok && c.usage {
		return exitUsage
	}
	return exitProblem
}
