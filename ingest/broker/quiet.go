package broker

import (
	"context"
	"log/slog"
	"sync"
	"time"
)

// quiet is what the library's log goes through: its news are details to us, and
// the packets it likes to print may hold a password or a payload.
type quiet struct {
	to     slog.Handler
	ration *ration
}

// mostWarnings is how many lines a minute the library may have in the log: each client that
// sends nonsense makes it warn. Proposal.
const mostWarnings = 30

// A ration counts the lines of a minute.
type ration struct {
	mu     sync.Mutex
	minute time.Time
	lines  int
}

// take reports whether one more line may be logged, and how many were left out of the
// minute before.
func (r *ration) take(now time.Time) (ok bool, left int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if minute := now.Truncate(time.Minute); !minute.Equal(r.minute) {
		left = max(0, r.lines-mostWarnings)
		r.minute, r.lines = minute, 0
	}
	r.lines++
	return r.lines <= mostWarnings, left
}

func (q quiet) level(l slog.Level) slog.Level {
	if l == slog.LevelInfo {
		return slog.LevelDebug
	}
	return l
}

func (q quiet) Enabled(ctx context.Context, l slog.Level) bool {
	return q.to.Enabled(ctx, q.level(l))
}

func (q quiet) Handle(ctx context.Context, r slog.Record) error {
	text := r.Message
	if text == "" { // so the library tells of a connection that ended badly
		text = "a connection ended"
	}
	clean := slog.NewRecord(r.Time, q.level(r.Level), "broker: "+text, r.PC)
	if clean.Level >= slog.LevelWarn {
		ok, left := q.ration.take(r.Time)
		if !ok {
			return nil
		}
		if left > 0 {
			clean.AddAttrs(slog.Int("left_out_before", left))
		}
	}
	r.Attrs(func(a slog.Attr) bool {
		if !telling(a) {
			clean.AddAttrs(a)
		}
		return true
	})
	return q.to.Handle(ctx, clean)
}

// telling reports whether an attribute may hold a whole packet.
func telling(a slog.Attr) bool { return a.Key == "pk" || a.Key == "packet" }

func (q quiet) WithAttrs(as []slog.Attr) slog.Handler { return quiet{q.to.WithAttrs(as), q.ration} }
func (q quiet) WithGroup(name string) slog.Handler    { return quiet{q.to.WithGroup(name), q.ration} }
