package web

import (
	"context"
	"log/slog"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/signin"
	"flitch/process"
	"flitch/process/record"
)

// A Commander takes what a person said. It returns when the command is stored
// and its effects are, or an error; a *process.Refusal is for the person.
type Commander interface {
	Do(context.Context, process.Command) error
}

// A Reader tells how things stand.
type Reader interface {
	Glances(context.Context) ([]Glance, error)  // open batches, the one that needs most first
	Alarms(context.Context) ([]Alarm, error)    // open ones and the latest that are over, newest first
	Batches(context.Context) ([]Summary, error) // all batches, newest first
	Night(context.Context) (Night, error)
	Heard(context.Context) (Heard, error)
	Entries(ctx context.Context, batch string) ([]record.Entry, error) // what people said of it, in the order it was typed
	Probes(context.Context) ([]Probe, error)                           // every configured one, with its checks

	// Places tells of every configured place what is measured there now.
	Places(context.Context) ([]Place, error)

	// Charts tells what there is to draw of a batch, open or closed, or a
	// *process.Refusal with NotFound set.
	Charts(ctx context.Context, id string) (Charts, error)
}

// A Clock tells the time.
type Clock interface {
	Now() time.Time
}

// Deps is what the page needs.
type Deps struct {
	Site      record.Site
	Reader    Reader
	Commander Commander
	Batches   Batches // nil: no batch can be begun here
	Clock     Clock
	NewID     func() string // an identity for a command, never given twice
	Log       *slog.Logger
	Ringing   *Ringing     // nil: the page says nothing of phones
	SignIn    *signin.Desk // nil: nobody has to sign in
	Papers    Papers       // nil: no papers are written here

	darkroom chan struct{} // one token: one picture is developed at a time

	// Cards returns what is known of the matter of an alarm. Nil: nothing is shown.
	Cards func(ctx context.Context, a Alarm) (Cards, error)

	// AddProbe writes a probe into the configuration, after which flitch starts anew. The
	// error is a *process.Refusal when the person is wrong. Nil: probes cannot be added.
	AddProbe func(ctx context.Context, p config.NewProbe, by string) error
}
