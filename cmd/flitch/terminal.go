package main

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"time"
	"unicode"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/quantity"
)

// A terminal is what a command sees of the outside world.
type terminal struct {
	out    io.Writer // answers
	err    io.Writer // complaints: no capital, no full stop, no stack
	now    func() time.Time
	env    func(name string) string
	in     *os.File // answers to questions; nil: nobody is there
	client *http.Client

	machine app.Machine // whose time the daemon lives by; nil: this one
}

// Exit codes.
const (
	exitFine    = 0
	exitProblem = 1 // the command was understood and could not be done
	exitUsage   = 2 // the command line is wrong; nothing was tried
)

// A complaint is an error for the person at the keyboard.
type complaint = quantity.Complaint

// problem complains about something that could not be done.
func problem(try, format string, args ...any) error { return quantity.Problem(try, format, args...) }

// misuse complains about the command line.
func misuse(try, format string, args ...any) error { return quantity.Misuse(try, format, args...) }

// shown is a text that somebody else typed or sent, without what would move the cursor of
// a terminal. New ones are refused at the door; older ones stay as they are stored.
func shown(text string) string { return shownWith(text, "") }

// shownWith is shown for a text that may hold some of those, as lines.
func shownWith(text, fine string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) || strings.ContainsRune(fine, r) {
			return r
		}
		return '?'
	}, text)
}

// fail prints the error and returns the exit code.
func (t terminal) fail(err error) int {
	fmt.Fprintf(t.err, "flitch: %s\n", shownWith(err.Error(), "\n\t"))
	if c, ok := errors.AsType[*complaint](err); ok && c.Usage {
		return exitUsage
	}
	return exitProblem
}
