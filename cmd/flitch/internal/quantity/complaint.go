package quantity

import "fmt"

// A Complaint is an error for the person who typed.
type Complaint struct {
	What  string // what is wrong
	Try   string // what to type or do instead
	Usage bool   // it was typed wrongly; else it was understood and could not be done
	About string // what of several things typed it is about; empty: not said
}

// Error returns what is wrong, and what to try if that is known.
func (c *Complaint) Error() string {
	if c.Try == "" {
		return c.What
	}
	return c.What + "; try: " + c.Try
}

// Problem complains about something that was understood and could not be done.
func Problem(try, format string, args ...any) error {
	return &Complaint{What: fmt.Sprintf(format, args...), Try: try}
}

// Misuse complains about what was typed.
func Misuse(try, format string, args ...any) error {
	return &Complaint{What: fmt.Sprintf(format, args...), Try: try, Usage: true}
}

// Within puts what was typed around it before a complaint.
func Within(name, typed string, err error) error {
	c, ok := err.(*Complaint)
	if !ok {
		return err
	}
	return &Complaint{What: fmt.Sprintf("%s %s: %s", name, typed, c.What), Try: c.Try, Usage: c.Usage, About: c.About}
}

// About says of which of several things typed a complaint is: a form shows it there.
func About(what string, err error) error {
	if c, ok := err.(*Complaint); ok {
		named := *c
		named.About = what
		return &named
	}
	return err
}
