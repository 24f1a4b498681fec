package app

import (
	"context"
	"errors"
	"testing"
	"time"

	"flitch/process"
	"flitch/store"
)

// A supervisor that hands each word on.
type testSupervisor struct {
	words chan string
	every time.Duration
}

func (s testSupervisor) Tell(state string) error { s.words <- state; return nil }
func (s testSupervisor) Every() time.Duration    { return s.every }

func TestTheSupervisorIsToldOfTheStartOfWorkAndOfTheEnd(t *testing.T) {
	s := newShop(t)
	told := testSupervisor{make(chan string, 1000), 40 * time.Millisecond}
	s.supervisor = told
	s.open()
	for _, want := range []string{"READY=1", "WATCHDOG=1", "WATCHDOG=1"} {
		for word := range told.words { // the first food may come before the word that it is ready
			if word == want {
				break
			}
		}
	}
	s.close()
	close(told.words)
	last := ""
	for last = range told.words {
	}
	if last != "STOPPING=1" {
		t.Errorf("the last word is %q", last)
	}
}

// An engine that hangs in a write does not feed the watchdog, and one that answers again does.
func TestAnEngineThatHangsIsNotWorking(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	held, release, done := make(chan bool), make(chan bool), make(chan error, 2)
	go func() {
		done <- s.app.db.Update(func(*store.Tx) error { close(held); <-release; return nil })
	}()
	<-held
	go func() {
		done <- s.app.engine.Do(t.Context(), process.Command{ID: "held", Kind: process.CommandNote, Batch: "PS-02", By: "T.V.", At: s.clock.Now(), Text: "waits"})
	}()
	if !s.until(func() bool { return errors.Is(answers(t.Context(), s.app.engine, 20*time.Millisecond), errHangs) }) {
		t.Error("it is taken to be working")
	}
	close(release)
	for range 2 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	if err := answers(t.Context(), s.app.engine, time.Minute); err != nil {
		t.Errorf("after it: %v", err)
	}
}

// A slowWorker never answers.
type slowWorker struct {
	n, step int64 // what it has worked, and goes on by until it is looked at again
}

func (w *slowWorker) CatchUp(ctx context.Context) error { <-ctx.Done(); return ctx.Err() }
func (w *slowWorker) Worked() int64                     { w.n += w.step; return w.n }

// An engine that computes a long batch anew and does not answer meanwhile works; one that stands
// still does not.
func TestAnEngineThatGoesOnWorks(t *testing.T) {
	if err := works(t.Context(), &slowWorker{step: 1}, time.Millisecond); err != nil {
		t.Errorf("it goes on, and %v", err)
	}
	if err := works(t.Context(), &slowWorker{n: 5}, time.Millisecond); !errors.Is(err, errHangs) {
		t.Errorf("it stands still, and %v", err)
	}
}
