package fleet

import (
	"context"
	"errors"
	"fmt"
	"net"

	"github.com/jackc/pgx/v5/pgconn"
)

// A Class says what kind of trouble there is, for a person and for the metrics.
type Class string

// The classes of trouble.
const (
	Unreachable Class = "unreachable" // no answer in time: it comes back by itself
	SignIn      Class = "sign-in"     // the user or the password is refused
	Rights      Class = "rights"      // the user may not do what a site has to
	Schema      Class = "schema"      // the tables are missing, older or newer
	History     Class = "history"     // what is there under our name is not what we stored
	Room        Class = "room"        // the disk of PostgreSQL is full
	Local       Class = "local"       // our own database could not be read
	Other       Class = "other"
)

// Classes are all of them.
var Classes = []Class{Unreachable, SignIn, Rights, Schema, History, Room, Local, Other}

// NeedsPerson reports whether waiting does not help.
func (c Class) NeedsPerson() bool {
	return c == SignIn || c == Rights || c == Schema || c == History
}

// A Trouble is why nothing was sent, and what to do about it.
type Trouble struct {
	Class Class
	What  string
	Try   string // what to type, or to do; empty: nothing helps but waiting
}

// Error is both in one line. There is never a password in it.
func (t *Trouble) Error() string {
	if t.Try == "" {
		return t.What
	}
	return t.What + "; " + t.Try
}

func trouble(class Class, try, format string, args ...any) *Trouble {
	return &Trouble{class, fmt.Sprintf(format, args...), try}
}

// explain makes a trouble of what the driver says. The address is not repeated but for host
// and user: it may hold a password.
func explain(err error, at string) error {
	var own *Trouble
	var said *pgconn.PgError
	var network net.Error
	switch {
	case err == nil || errors.As(err, &own):
		return err
	case errors.As(err, &said):
		return explainAnswer(said, at)
	case errors.Is(err, context.DeadlineExceeded), errors.As(err, &network) && network.Timeout():
		return trouble(Unreachable, "", "%s does not answer in time", at)
	}
	var connecting *pgconn.ConnectError
	if errors.As(err, &connecting) || errors.As(err, &network) {
		return trouble(Unreachable, "", "%s cannot be reached: %v", at, root(err))
	}
	return trouble(Unreachable, "", "the connection to %s broke: %v", at, root(err))
}

// root is the innermost error: the outer ones repeat the address.
func root(err error) error {
	for {
		inner := errors.Unwrap(err)
		if inner == nil {
			if many, ok := err.(interface{ Unwrap() []error }); ok && len(many.Unwrap()) > 0 {
				err = many.Unwrap()[0]
				continue
			}
			return err
		}
		err = inner
	}
}

// explainAnswer judges an answer by its code: appendix A of PostgreSQL's manual.
func explainAnswer(said *pgconn.PgError, at string) error {
	switch code := said.Code; {
	case code == "28P01" || code == "28000":
		return trouble(SignIn, "look at the user, the password and pg_hba.conf", "%s refuses the sign-in: %s", at, said.Message)
	case code == "3D000":
		return trouble(SignIn, "createdb, or the name behind the last / of the address", "%s: %s", at, said.Message)
	case code == "42501":
		return trouble(Rights, "flitch fleet init --site USER, by the owner", "%s: %s", at, said.Message)
	case code == "3F000" || code == "42P01" || code == "42703":
		return trouble(Schema, "flitch fleet init, by the owner", "%s has no tables of flitch: %s", at, said.Message)
	case code[:2] == "53":
		return trouble(Room, "free some space there", "%s: %s", at, said.Message)
	case code[:2] == "57" || code[:2] == "08" || code[:2] == "40" || code[:2] == "55" || code == "25P03":
		return trouble(Unreachable, "", "%s: %s", at, said.Message)
	}
	return trouble(Other, "", "%s: %s (%s)", at, said.Message, said.Code)
}

// classOf is the class of an error of this package.
func classOf(err error) Class {
	var own *Trouble
	if errors.As(err, &own) {
		return own.Class
	}
	return Other
}
