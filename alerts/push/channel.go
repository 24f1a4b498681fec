package push

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nikoksr/notify"

	"flitch/alerts"
)

// longestSubject bounds the first line, in characters: what the strictest service
// takes (Pushover: 250).
const longestSubject = 250

// A Channel is one way to one person.
type Channel struct {
	name     string
	deadline time.Duration
	notifier notify.Notifier
	limit    int              // longest body, in characters; zero for none
	classify func(error) bool // whether trying again can help, for errors that do not say so themselves
	secrets  []string         // never in an error text
}

// Name is the channel's name in the configuration.
func (c *Channel) Name() string { return c.name }

// Deadline is the longest that Send may take.
func (c *Channel) Deadline() time.Duration { return c.deadline }

// Send hands m to the other side and returns what it answered. The error is an
// *alerts.SendError. Send keeps ctx's deadline and its own, whatever the library
// underneath does; a library call that ignores it may go on after Send has
// returned, up to callLimit.
func (c *Channel) Send(ctx context.Context, m alerts.Message) (receipt string, err error) {
	ctx, cancel := context.WithTimeout(ctx, c.deadline)
	defer cancel()
	p := &parcel{message: m}
	subject, body := shorten(m.Subject, longestSubject), shortenBody(m.Body, c.limit)
	err = detached(p.watched(withParcel(ctx, p)), func(ctx context.Context) error {
		return notify.NewWithServices(c.notifier).Send(ctx, subject, body)
	})
	if err != nil {
		refusal := c.refusal(ctx, err)
		if _, answered := errors.AsType[*alerts.SendError](err); !answered {
			refusal.Unknown = p.mayHaveCome(ctx.Err() != nil)
		}
		return "", refusal
	}
	return redact(p.receipt, c.secrets), nil
}

// refusal turns what the library returned into an error that can be stored.
func (c *Channel) refusal(ctx context.Context, err error) *alerts.SendError {
	if known, ok := errors.AsType[*alerts.SendError](err); ok {
		return &alerts.SendError{Retry: known.Retry, After: known.After, Gone: known.Gone, Text: redact(known.Text, c.secrets)}
	}
	if ctx.Err() != nil {
		return &alerts.SendError{Retry: true, Text: fmt.Sprintf("no answer within %s", c.deadline)}
	}
	return &alerts.SendError{Retry: c.classify == nil || c.classify(err), Text: redact(err.Error(), c.secrets)}
}

// detached runs call and waits for it no longer than ctx. The result of a call
// that is late is thrown away. A library that panics fails the send, not flitch.
func detached(ctx context.Context, call func(context.Context) error) error {
	done := make(chan error, 1)
	go func() {
		defer func() {
			if broken := recover(); broken != nil {
				done <- fmt.Errorf("the library failed: %v", broken)
			}
		}()
		done <- call(ctx)
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}
