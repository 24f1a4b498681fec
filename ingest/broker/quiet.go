package broker

import (
	"context"
	"log/slog"
)

// quiet is what the library's log goes through: its news are details to us, and
// the packets it likes to print may hold a password or a payload.
type quiet struct{ to slog.Handler }

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

func (q quiet) WithAttrs(as []slog.Attr) slog.Handler { return quiet{q.to.WithAttrs(as)} }
func (q quiet) WithGroup(name string) slog.Handler    { return quiet{q.to.WithGroup(name)} }
