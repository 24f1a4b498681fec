package api

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/signin"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/chart"
	"flitch/process/record"
)

// A Clock tells the time and wakes people up.
type Clock interface {
	Now() time.Time
	After(time.Duration) <-chan time.Time
}

// A Commander takes what a person said. It returns when the command is stored
// and its effects are, or an error; a *process.Refusal is for the person.
type Commander interface {
	Do(context.Context, process.Command) error
}

// A Reader tells how things stand.
type Reader interface {
	web.Reader

	// Batch returns everything about one batch, or a *process.Refusal with
	// NotFound set.
	Batch(ctx context.Context, id string) (Batch, error)

	// Record returns the record of a batch, or a *process.Refusal with NotFound
	// set. The readings are read after Record has returned, until the context ends.
	Record(ctx context.Context, id string) (*record.Record, error)

	// Proof writes the file by which a stranger can find out whether anything of the batch
	// was changed. An error before the first byte may be a *process.Refusal with NotFound set.
	Proof(ctx context.Context, id string, w io.Writer) error

	// Chart returns the temperatures of a batch as they are drawn, or a
	// *process.Refusal with NotFound set. Zero ends of the view are the batch's.
	Chart(ctx context.Context, id string, view chart.View) (chart.Temperatures, error)

	// Drawing returns another picture of a batch: cure, cook or chill, so many pixels
	// wide. Where there is none it is a *process.Refusal with NotFound set.
	Drawing(ctx context.Context, id, kind string, width int) (chart.Drawing, error)
}

// A Batch is the full view of one batch.
type Batch struct {
	web.Summary
	By         string                `json:"by"`
	Class      process.Class         `json:"class"`
	Plan       record.PlanVersion    `json:"plan"`
	Pieces     []process.Piece       `json:"pieces"`
	Probes     []process.PlacedProbe `json:"probes"`
	Doses      []process.DoseEntry   `json:"doses,omitempty"` // in force
	Stages     []record.Stage        `json:"stages"`
	Clocks     []process.Clock       `json:"clocks"`
	LeftOut    []record.LeftOut      `json:"left_out,omitempty"` // readings that did not count, and why
	Deviations []record.Deviation    `json:"deviations"`
	Alarms     []web.Alarm           `json:"alarms"`
	Entries    []record.Entry        `json:"entries"`

	Actions      []record.Action       `json:"corrective_actions,omitempty"`
	Dispositions []record.Disposition  `json:"dispositions,omitempty"`
	Reviews      []process.ReviewEntry `json:"reviews,omitempty"`
}

// A Probe is a probe and how it was checked.
type Probe = web.Probe

// A NewRequest starts a batch by names.
type NewRequest = web.NewRequest

// A Fault is something wrong with flitch itself.
type Fault struct {
	Name string `json:"name"` // "disk", "broker"
	Text string `json:"text"` // what is wrong and what to do
}

// Deps is what the door needs.
type Deps struct {
	Reader    Reader
	Commander Commander
	Batches   web.Batches                                          // what a batch can be begun with, and like
	Health    func(context.Context) []Fault                        // empty: well
	Phones    Phones                                               // nil: none can be rung by web push
	AddProbe  func(context.Context, config.NewProbe, string) error // the string: initials; errors are *process.Refusal when the person is wrong
	Import    Importer                                             // nil: files cannot be imported
	SignIn    *signin.Desk                                         // nil: nobody has to sign in
	Papers    web.Papers                                           // nil: no ready texts
	Links     *Links                                               // nil: no links to answer with
	Events    *Events
	Metrics   http.Handler   // of Metrics.Handler; nil: no /metrics
	Page      http.Handler   // everything that is not named here; of web.New
	Clock     Clock          // of the batches: commands get their time from it
	Wall      Clock          // of the machine: deadlines and beats of the stream; differs in a demonstration only
	NewID     func() string  // an identity for a command that came without one
	Zone      *time.Location // of the times in answers; nil: UTC
	Hosts     []string       // names by which we may be called, beside those of this machine
	Log       *slog.Logger
}
