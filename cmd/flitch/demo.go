package main

import (
	"context"
	"errors"
	"net"
	"os/signal"
	"syscall"
	"time"

	"flitch/cmd/flitch/internal/demo"
	"flitch/process"
)

type demoCommand struct {
	Once   bool          `help:"Run one batch as fast as it goes, then end."`
	Out    string        `help:"Folder to write record.csv, .json, .html, .pdf and .xlsx into." placeholder:"DIR"`
	Listen string        `help:"Address of the page." default:"127.0.0.1:8411" placeholder:"HOST:PORT"`
	Lasts  time.Duration `help:"How long the nine days take; not with --once." default:"4m" placeholder:"TIME"`
	From   string        `help:"Run as fast as it goes up to this stage, or until this alarm stands, and only then at its pace: cook, chill, C1." placeholder:"STAGE|ALARM"`
}

// Help says what is to be seen.
func (demoCommand) Help() string {
	return "An invented batch of three slabs goes from cure to chill: a door left ajar, a forgotten turn, a stall, a chill that is too slow. " +
		"Its probes speak real MQTT. Needs no configuration and leaves nothing behind but the record.\n\n" +
		"Example:\n\n    flitch demo --once --out ./demo-record\n    flitch demo --from cook --lasts 1h"
}

// Run plays the story until it ends or is stopped.
func (c demoCommand) Run(t terminal) error {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	o := demo.Options{Once: c.Once, Out: c.Out, Listen: c.Listen, Lasts: c.Lasts, From: c.From, Print: t.out, Version: version()}
	if c.Once {
		o.Lasts, o.Listen = 0, "127.0.0.1:0"
	}
	err := demo.Run(ctx, o)
	if no, ok := errors.AsType[*process.Refusal](err); ok {
		return problem(no.Hint, "%s", no.What)
	}
	if fault, ok := errors.AsType[*net.OpError](err); ok && fault.Op == "listen" {
		return problem("--listen 127.0.0.1:0, for any port that is free", "%v", err)
	}
	return err
}
