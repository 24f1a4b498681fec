package fleet

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// A Glance is what a site says of now, as its page has it.
type Glance struct {
	At      time.Time `json:"at"` // by its clock
	Version string    `json:"version"`
	State   string    `json:"state"` // the worst of all: fine, look, blind or now
	Since   time.Time `json:"since,omitzero"`
	Why     string    `json:"why,omitempty"`
	Batches []Batch   `json:"batches,omitempty"` // open ones, the worst first
	Alarms  []Alarm   `json:"alarms,omitempty"`  // standing, the newest first
}

// A Batch is one open batch in a glance.
type Batch struct {
	ID      string    `json:"batch"`
	Product string    `json:"product"`
	Stage   string    `json:"stage"`
	State   string    `json:"state"`
	Since   time.Time `json:"since,omitzero"`
	Why     string    `json:"why,omitempty"`
}

// An Alarm is one that stands.
type Alarm struct {
	Number   int64     `json:"number"`
	Entry    string    `json:"entry"`
	Level    string    `json:"level"`
	Title    string    `json:"title"`
	Subject  string    `json:"subject"`
	Since    time.Time `json:"since"`
	Answered string    `json:"answered,omitempty"` // who has said that they are on it
}

// maxStanding bounds the alarms of a glance: a house that rings with more needs no list.
const maxStanding = 100

// tellNow writes the glance of this moment. It goes first, before weeks of readings.
func (s *Sink) tellNow(ctx context.Context, tx pgx.Tx, m mark) error {
	seq, now := s.log.LastSeq(), s.o.Clock.Now()
	if s.o.Glance != nil {
		g, err := s.o.Glance(ctx)
		if err != nil {
			return ownFault(err)
		}
		g.Alarms = g.Alarms[:min(len(g.Alarms), maxStanding)]
		text, err := json.Marshal(g)
		if err != nil {
			return ownFault(fmt.Errorf("glance: %w", err))
		}
		if _, err := tx.Exec(ctx, `INSERT INTO flitch.glances (site, seq, body) VALUES ($1, $2, $3)
			ON CONFLICT (site) DO UPDATE SET seq = excluded.seq, body = excluded.body WHERE excluded.seq >= glances.seq`, m.site, seq, string(text)); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, "UPDATE flitch.sites SET told = $2, heard = clock_timestamp(), every_ms = $3 WHERE site = $1", m.site, now.UnixMilli(), s.o.Every.Milliseconds())
	return err
}
