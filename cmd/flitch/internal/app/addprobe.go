package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/keyfile"
	"flitch/cmd/flitch/internal/signin"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/store"
)

// ErrAgain is returned by Run when the configuration has changed: build the App anew
// from the file.
var ErrAgain = errors.New("the configuration has changed")

// answerFirst is how long a start anew waits, so that the page that asked for it still
// gets its answer: proposal.
const answerFirst = time.Second

// Again ends Run with ErrAgain, as on a stop: what was taken is stored first.
func (a *App) Again() {
	select {
	case a.again <- struct{}{}:
	default: // somebody asked already
	}
}

// restart waits for ctx to end or for Again.
func (a *App) restart(ctx context.Context) error {
	select {
	case <-ctx.Done():
		return nil
	case <-a.again:
	}
	select {
	case <-ctx.Done():
		return nil
	case <-Wall{}.After(answerFirst):
		return ErrAgain
	}
}

// addProbe writes a probe into the configuration and starts anew with it. The error is
// a *process.Refusal when the person sent something wrong; then nothing has changed.
func (a *App) addProbe(ctx context.Context, p config.NewProbe, by string) error {
	if err := signin.May(ctx, signin.Curer); err != nil {
		return err
	}
	by, err := signin.Sign(ctx, by)
	if err != nil {
		return err
	}
	if a.cfg.Path == "" {
		return &process.Refusal{What: "this flitch runs without a configuration file", Hint: "flitch init DIR makes one; the demonstration has none"}
	}
	if !plain(by, longestPerson) {
		return &process.Refusal{What: "nobody signed", Hint: fmt.Sprintf("type your initials, at most %d characters", longestPerson)}
	}
	a.adding.Lock()
	defer a.adding.Unlock()
	text, err := config.WithProbe(a.cfg.Path, p)
	if problems, ok := errors.AsType[*config.Problems](err); ok {
		return &process.Refusal{What: wrong(problems.List), Hint: hints(problems.List)}
	}
	if err == nil {
		err = keyfile.Write(config.ProbeFile(a.cfg.Path), text, 0o644)
	}
	if err != nil {
		return a.notChanged(err)
	}
	a.log.Info("probe added", "probe", p.Name, "topic", p.Topic, "by", by)
	line := process.JournalLine{At: a.clock.Now(), Kind: "probe added", By: by, Text: fmt.Sprintf("%s: %s at %s, from %s %s", p.Name, p.Measures, p.Place, p.Topic, p.Value)}
	if err := a.db.Update(func(tx *store.Tx) error { return tx.AppendJournal(line) }); err != nil {
		a.log.Error("the journal does not say that a probe was added", "probe", p.Name, "err", err)
	}
	a.Again()
	return nil
}

// wrong says all that is wrong, in one line.
func wrong(list []config.Problem) (text string) {
	for i, p := range list {
		if i > 0 {
			text += "; "
		}
		text += p.Key + ": " + p.What
	}
	return text
}

// hints says what to type instead, where it is known.
func hints(list []config.Problem) (text string) {
	for _, p := range list {
		if p.Hint == "" {
			continue
		}
		if text != "" {
			text += "; "
		}
		text += p.Hint
	}
	return text
}

// placesOf lists the places that a probe may be in.
func placesOf(c *config.Config) (out []web.PlaceName) {
	for _, p := range c.Places {
		out = append(out, web.PlaceName{Name: p.Name, Title: p.Title, Kind: string(p.Kind)})
	}
	return out
}
