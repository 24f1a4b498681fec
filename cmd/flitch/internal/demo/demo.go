package demo

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"flitch/cmd/flitch/internal/app"
	"flitch/ingest/mqtt"
	"flitch/ingest/sim"
	"flitch/store"
)

// Options of a run.
type Options struct {
	Once    bool          // end when the story ends; else leave the page up until the context ends
	Out     string        // folder for the record; empty: none is written
	Listen  string        // address of the page
	Lasts   time.Duration // how long the story takes; zero: as fast as it goes
	From    string        // as fast as it goes until this stage begins or this alarm stands; empty: at its pace from the start
	Print   io.Writer     // what happens, for people
	Version string
}

// Run plays the story.
func Run(ctx context.Context, o Options) (err error) {
	if err := checkFrom(o.From); err != nil {
		return err
	}
	folder, err := os.MkdirTemp("", "flitch-demo-")
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	defer os.RemoveAll(folder)
	s := &stage{Options: o, story: sim.NewStory(sim.StorySeed), database: filepath.Join(folder, "demo.db")}
	if err := store.Create(s.database); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	if s.phone, err = newPhone(o.Print); err != nil {
		return fmt.Errorf("demo: pretend phone: %w", err)
	}
	defer s.phone.close()
	return s.play(ctx)
}

// A stage is one run of the story with all that takes part in it.
type stage struct {
	Options
	story    *sim.Story
	database string
	phone    *phone
	clock    *app.Stepped
	app      *app.App
	out      *mqtt.Publisher
}

// play opens the house, runs the story through it and closes it again.
func (s *stage) play(ctx context.Context) (err error) {
	cfg := house(s.story, s.database, s.Listen, s.phone.address())
	s.clock = app.NewStepped(storyBegins)
	s.app, err = app.New(cfg, app.Options{Clock: s.clock, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Version: s.Version})
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	running, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.app.Run(running) }()
	defer func() {
		stop()
		if ended := <-done; err == nil && ended != nil {
			err = fmt.Errorf("demo: %w", ended)
		}
	}()
	if s.out, err = mqtt.NewPublisher(ctx, mqtt.Config{URL: "tcp://" + s.app.BrokerAddress(), ClientID: "demo-probes"}); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	defer s.out.Close()
	s.welcome()
	if err := s.steps(ctx); err != nil {
		return err
	}
	if err := s.finish(ctx); err != nil {
		return err
	}
	if !s.Once {
		fmt.Fprintf(s.Print, "\nThe story is over; the page stays up at %s until you stop it (Ctrl-C).\n", s.app.Address())
		<-ctx.Done()
	}
	return nil
}

func (s *stage) welcome() {
	fmt.Fprintf(s.Print, "%s, batch %s, %q. All of it is invented.\nPage: %s   broker: %s\n\n",
		sim.StoryShop, sim.StoryBatch, sim.StoryTitle, s.app.Address(), s.app.BrokerAddress())
}

// steps plays every step, at the pace asked for. A story that is stopped early is
// no error.
func (s *stage) steps(ctx context.Context) error {
	pace := s.Lasts / storySteps
	next := time.Now()
	quick := s.From != ""
	for step := range s.story.Steps() {
		if ctx.Err() != nil {
			return nil
		}
		if err := s.step(ctx, step); err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return fmt.Errorf("demo: at %s: %w", step.At.Format(time.RFC3339), err)
		}
		if quick {
			var err error
			if quick, err = s.before(step); err != nil {
				return fmt.Errorf("demo: %w", err)
			}
			next = time.Now()
			continue
		}
		next = next.Add(pace)
		select {
		case <-ctx.Done():
		case <-time.After(time.Until(next)):
		}
	}
	return nil
}
