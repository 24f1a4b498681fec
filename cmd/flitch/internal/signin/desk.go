package signin

import (
	"context"
	"errors"
	"fmt"
	"time"

	"flitch/process"
)

// Role is what somebody may do.
type Role string

// The roles.
const (
	Curer    Role = "curer"    // everything
	Reviewer Role = "reviewer" // looks, writes notes, reviews records, answers and judges alarms
	Guest    Role = "guest"    // looks
)

// A Visitor is who looks at the page.
type Visitor struct {
	Name string // initials, or the name of a guest link
	Role Role
}

// A Desk signs people in.
type Desk struct {
	File  File
	Key   []byte                     // of HMAC-SHA256, kept by this installation
	Roles func(initials string) Role // of the persons of the configuration; empty: nobody of it
	Now   func() time.Time
	// Guessed is told that wrong passwords of a person were tried, so many in a row; nil
	// is fine. It must not wait.
	Guessed func(name string, wrong int, from string)

	tries tries
	one   chan struct{} // a token for the one hash that is made at a time
}

// NewDesk prepares a desk.
func NewDesk(file File, key []byte, roles func(string) Role, now func() time.Time) *Desk {
	return &Desk{File: file, Key: key, Roles: roles, Now: now, one: make(chan struct{}, 1)}
}

// Why somebody is not let in.
var (
	ErrWrong = errors.New("the initials or the password are wrong")
	ErrBusy  = errors.New("somebody else is signing in")
	ErrFile  = errors.New("nobody can sign in: the file of passwords cannot be read; it has to belong to whoever runs flitch")
)

// A TooMany says that somebody tried too often.
type TooMany struct{ Wait time.Duration }

// Error says when to try again.
func (e *TooMany) Error() string {
	return fmt.Sprintf("too many wrong passwords: try again in %s", e.Wait.Round(time.Second))
}

// Enter returns a token for the right password, and until when it is good. from is the
// address of whoever tries.
func (d *Desk) Enter(ctx context.Context, initials, password, from string) (token string, ends time.Time, err error) {
	return d.EnterKnown(ctx, initials, password, from, "")
}

// EnterKnown is Enter for a browser that may have a token of Known: who signed in with it
// before is not held up by what strangers try, and has tries of its own.
func (d *Desk) EnterKnown(ctx context.Context, initials, password, from, known string) (token string, ends time.Time, err error) {
	now := d.Now()
	who := d.subject(initials, from, known)
	if wait := d.tries.wait(now, who); wait > 0 {
		return "", ends, &TooMany{wait}
	}
	select {
	case d.one <- struct{}{}:
		defer func() { <-d.one }()
	case <-ctx.Done():
		return "", ends, ErrBusy
	}
	// Looked at again: of many tries at once, those that waited here are no more free.
	if wait := d.tries.wait(now, who); wait > 0 {
		return "", ends, &TooMany{wait}
	}
	if err := d.Readable(); err != nil {
		return "", ends, err
	}
	if len(password) > mostPassword || !d.File.matches(initials, password) || d.Roles(initials) == "" {
		d.wrong(now, who, from)
		return "", ends, ErrWrong
	}
	d.tries.worked(who)
	ends = now.Add(lasts)
	return d.token(initials, ends), ends, nil
}

// Readable is nil, or an ErrFile: then nobody comes in, and who is in is out.
func (d *Desk) Readable() error {
	if _, err := d.File.read(); err != nil {
		return fmt.Errorf("%w: %w", ErrFile, err)
	}
	return nil
}

// subject is what a try counts against.
func (d *Desk) subject(initials, from, known string) subject {
	if d.isKnown(known, initials) {
		return subject{device: known}
	}
	who := subject{from: from, name: initials}
	// A new password, which is set at the machine, begins anew: from an address that nobody
	// guesses from it lets in at once.
	if line := d.File.line(initials); line != "" && !isGuest(line) {
		who.person = initials + " " + mark(line)
	}
	return who
}

// wrong counts a try, and tells when there were five, ten, twenty and so on in a row.
func (d *Desk) wrong(now time.Time, who subject, from string) {
	n := d.tries.failed(now, who)
	if d.Guessed != nil && who.person != "" && n >= freeTries && n%freeTries == 0 && isPowerOf2(n/freeTries) {
		d.Guessed(who.name, n, from)
	}
}

func isPowerOf2(n int) bool { return n > 0 && n&(n-1) == 0 }

// Admit returns a token for the secret of a guest link. It ends with the link.
func (d *Desk) Admit(secret, from string) (token string, ends time.Time, err error) {
	now := d.Now()
	who := subject{from: from}
	if wait := d.tries.wait(now, who); wait > 0 {
		return "", ends, &TooMany{wait}
	}
	if err := d.Readable(); err != nil {
		return "", ends, err
	}
	if !d.Knows(secret) {
		d.tries.failed(now, who)
		return "", ends, ErrWrong
	}
	name, _ := d.File.guest(secret)
	ends = now.Add(lasts)
	if end := d.File.Ends(name); !end.IsZero() && end.Before(ends) {
		ends = end
	}
	return d.token(name, ends), ends, nil
}

// Knows reports whether that is the secret of a guest link that is good. Wrong ones are not counted:
// nobody guesses 128 bits, and a program with one that has ended must not hold up who comes from the
// same address.
func (d *Desk) Knows(secret string) bool {
	name, ok := d.File.guest(secret)
	return ok && !isOver(d.File.line(name), d.Now())
}

// Who returns whose token it is.
func (d *Desk) Who(token string) (Visitor, bool) {
	name, line, ok := d.read(token, d.Now())
	if !ok {
		return Visitor{}, false
	}
	if isGuest(line) {
		return Visitor{name, Guest}, true
	}
	role := d.Roles(name)
	return Visitor{name, role}, role != ""
}

type visitorKey struct{}

// With puts the visitor into a context.
func With(ctx context.Context, v Visitor) context.Context {
	return context.WithValue(ctx, visitorKey{}, v)
}

// Of returns the visitor; ok is false where nobody has to sign in.
func Of(ctx context.Context) (v Visitor, ok bool) {
	v, ok = ctx.Value(visitorKey{}).(Visitor)
	return v, ok
}

// Sign returns who signs: whoever is signed in, else who was typed. The error is a
// *process.Refusal when somebody signs for another.
func Sign(ctx context.Context, typed string) (string, error) {
	v, ok := Of(ctx)
	switch {
	case !ok:
		return typed, nil
	case typed != "" && typed != v.Name:
		return "", &process.Refusal{What: fmt.Sprintf("%s is signed in, and %s was typed", v.Name, typed), Hint: v.Name + ", or sign in as " + typed}
	}
	return v.Name, nil
}

// May refuses what the visitor's role does not allow; what needs a curer is everything
// but notes and answers to alarms. The error is a *process.Refusal.
func May(ctx context.Context, needs Role) error {
	v, ok := Of(ctx)
	if !ok || v.Role == Curer || v.Role == needs {
		return nil
	}
	return &process.Refusal{What: fmt.Sprintf("%s is signed in as %s, who may not do this", v.Name, v.Role), Hint: "sign in as a curer of this house"}
}
