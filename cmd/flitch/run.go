package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os/signal"
	"runtime/debug"
	"syscall"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/heard"
	"flitch/store"
)

type runCommand struct {
	Config string `help:"Configuration to run by." default:"flitch.toml" placeholder:"FILE"`
}

// Help shows an example.
func (runCommand) Help() string {
	return "The daemon: it runs until it is told to stop (Ctrl-C, SIGTERM) and then finishes what it has taken.\n\nExample:\n\n    flitch run --config flitch.toml"
}

// Run starts the daemon.
func (c runCommand) Run(t terminal) error {
	cfg, err := config.Load(c.Config)
	if problems, ok := errors.AsType[*config.Problems](err); ok {
		fmt.Fprintln(t.err, problems)
		return problem("flitch check --config "+c.Config, "%s, nothing was started", count(len(problems.List), "problem"))
	}
	if err != nil {
		return unreadable(c.Config, err)
	}
	if cfg.Doubts != nil {
		fmt.Fprintln(t.err, cfg.Doubts)
	}
	debug.SetGCPercent(50) // it shares a small board: a quarter less memory for a little more work
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	log := slog.New(slog.NewTextHandler(t.err, nil))
	supervisor, err := theSupervisor()
	if err != nil {
		return err
	}
	options := app.Options{Log: log, Version: version(), Heard: &heard.List{}, Supervisor: supervisor, Machine: t.machine}
	var idle app.StandBy
	if supervisor != nil {
		starts := app.StartsOf(cfg.Site.Database)
		if err := starts.Begin(); err != nil {
			fmt.Fprintf(t.err, "flitch: %v\n", err)
			idle.Wait(ctx, cfg, options, err)
		}
		defer func() {
			if ctx.Err() != nil {
				starts.End()
			}
		}()
	}
	for {
		err := c.once(ctx, t, cfg, &options)
		if app.StandsBy(err, cfg, options) && ctx.Err() == nil {
			fmt.Fprintf(t.err, "flitch: %v\n", err)
			if idle.Wait(ctx, cfg, options, err); ctx.Err() != nil {
				return nil
			}
			continue
		}
		if !errors.Is(err, app.ErrAgain) {
			return err
		}
		if cfg, err = config.Load(c.Config); err != nil {
			return problem("flitch check --config "+c.Config, "the configuration was changed and cannot be read: %v", err)
		}
		log.Info("the configuration has changed, starting anew", "file", c.Config)
	}
}

// once runs the daemon with one state of the configuration, and leaves in the options what
// the next needs.
func (c runCommand) once(ctx context.Context, t terminal, cfg *config.Config, options *app.Options) error {
	a, err := app.New(cfg, *options)
	if errors.Is(err, store.ErrMissing) && !app.StandsBy(err, cfg, *options) {
		return problem("flitch init --database "+cfg.Site.Database+" makes an empty one", "%v", err)
	}
	if in, ok := errors.AsType[*net.OpError](err); ok && in.Op == "listen" {
		return problem("stop what has that port, perhaps another flitch, or name another one: listen under [page] or [broker] in "+c.Config, "%v", err)
	}
	if err != nil {
		return err
	}
	c.announce(t, a, cfg)
	defer func() { options.Kept = a.Kept() }()
	return a.Run(ctx)
}

// announce says where the daemon can be reached.
func (runCommand) announce(t terminal, a *app.App, cfg *config.Config) {
	fmt.Fprintf(t.out, "page %s\n", a.Address())
	if key := a.RecordKey(); key != "" {
		fmt.Fprintf(t.out, "record key %s\n", key)
	}
	if finger := a.RootFingerprint(); finger != "" {
		fmt.Fprintf(t.out, "root %s\nroot SHA-256 %s\n", app.RootFile(cfg.Site.Database), finger)
	}
	if at := a.PlainLink(); at != "" {
		fmt.Fprintf(t.out, "root for phones %s\n", at)
	}
	if at := a.BrokerAddress(); at != "" {
		fmt.Fprintf(t.out, "broker %s\n", at)
	}
}
