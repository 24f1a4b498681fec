package app

import (
	"context"
	"fmt"
	"slices"

	"flitch/cmd/flitch/internal/signin"
	"flitch/process"
)

// buildSignIn prepares the sign-in where the page asks for it. The time is the
// machine's: passwords are older than any batch.
func (a *App) buildSignIn() error {
	if !a.cfg.Page.SignIn {
		return nil
	}
	file := signin.FileOf(a.cfg.Site.Database)
	people, _, err := file.Names()
	if err != nil {
		return fmt.Errorf("passwords: %w", err)
	}
	if len(people) == 0 {
		a.log.Warn("nobody can sign in yet: flitch password INITIALS", "file", file.Path)
	}
	a.signIn = signin.NewDesk(file, a.links.Key, a.role, a.trueTime)
	a.signIn.Guessed = a.guessed
	return nil
}

// role is what a person of the configuration may do; empty for others.
func (a *App) role(initials string) signin.Role {
	for _, p := range a.cfg.Persons {
		if p.Initials == initials {
			return signin.Role(p.Role)
		}
	}
	return ""
}

// forReviewers are the commands that need no curer.
var forReviewers = []process.CommandKind{process.CommandNote, process.CommandReviewed, process.CommandAcknowledge, process.CommandJudge}

// A signedCommander signs what the page and the interface say with whoever has signed
// in.
type signedCommander struct{ app *App }

// Do implements web.Commander.
func (s signedCommander) Do(ctx context.Context, c process.Command) error {
	c, err := s.signed(ctx, c)
	if err != nil {
		return err
	}
	return s.app.notEntered(s.app.engine.Do(ctx, c))
}

// signed is the command with the name of who has signed in, if that one may say it, and if
// what was typed is fit for the record.
func (s signedCommander) signed(ctx context.Context, c process.Command) (_ process.Command, err error) {
	if !slices.Contains(forReviewers, c.Kind) {
		if err := signin.May(ctx, signin.Curer); err != nil {
			return c, err
		}
	}
	if c.By, err = signin.Sign(ctx, c.By); err != nil {
		return c, err
	}
	return c, process.CheckWording(c)
}

// guessed logs that somebody tries passwords of a person, and leaves a line in the journal,
// as of a fault that came and is over. Nobody is rung at night by a stranger.
func (a *App) guessed(name string, wrong int, from string) {
	a.log.Warn("wrong passwords: somebody may be guessing", "name", name, "in_a_row", wrong, "last_from", from)
	part := fmt.Sprintf("sign-in of %s: %d wrong passwords in a row", name, wrong)
	if !a.tidings.pass(report{part: part, failed: true}, report{part: part}) {
		a.log.Error("wrong passwords not reported: too many at once")
	}
}
