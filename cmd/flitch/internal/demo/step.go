package demo

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"time"

	"flitch/ingest/sim"
	"flitch/process"
	"flitch/process/plans"
)

// step lets the clock tick on, publishes what the probes say, waits until it is
// stored and evaluated, and then lets the people speak.
func (s *stage) step(ctx context.Context, step sim.Step) error {
	s.clock.Step(step.At)
	if err := s.publish(ctx, step.Samples); err != nil {
		return err
	}
	if err := s.app.Settle(ctx); err != nil {
		return err
	}
	for _, c := range step.Commands {
		if err := s.say(ctx, c); err != nil {
			return err
		}
	}
	if len(step.Commands) > 0 {
		return s.app.Settle(ctx)
	}
	return nil
}

// publish sends all samples of a step and waits for every acknowledgement: each
// is then on disk.
func (s *stage) publish(ctx context.Context, samples []sim.Sample) error {
	answers := make([]<-chan error, len(samples))
	for i, sample := range samples {
		answers[i] = s.out.Publish(ctx, sample.Topic, sample.Payload, 1)
	}
	for i, answer := range answers {
		if err := <-answer; err != nil {
			return fmt.Errorf("publish to %s: %w", samples[i].Topic, err)
		}
	}
	return nil
}

// say turns what a person of the story says into a command.
func (s *stage) say(ctx context.Context, said sim.Command) error {
	c := process.Command{ID: rand.Text(), Kind: said.Kind, Batch: sim.StoryBatch, By: said.By, At: said.At,
		Stage: said.Stage, Pieces: said.Pieces, Placement: said.Placement, Value: said.Value, Text: said.Text, Dosing: said.Dosing}
	switch said.Kind {
	case process.CommandNew:
		plan, err := plans.BuiltIn(storyPlan)
		if err != nil {
			return err
		}
		c.New = &process.NewBatch{Plan: plan, Pieces: s.story.Pieces(), Probes: s.story.Placed()}
	case process.CommandAcknowledge:
		number, standing, err := s.app.Alarm(said.Entry)
		if err != nil || !standing {
			return err
		}
		c.Alarm, c.Batch = number, ""
	}
	err := s.app.Do(ctx, c)
	if no, ok := errors.AsType[*process.Refusal](err); ok && !s.Once { // whoever looks on has pressed a button first
		fmt.Fprintf(s.Print, "%s  %-5s not taken: %s: %s\n", stamp(said.At), said.By, said.Kind, no.What)
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s by %s: %w", said.Kind, said.By, err)
	}
	s.tell(said)
	return nil
}

// tell prints what a person did.
func (s *stage) tell(c sim.Command) {
	what := string(c.Kind)
	switch c.Kind {
	case process.CommandNew:
		what = "three slabs in cure"
	case process.CommandStage:
		what = "stage " + string(c.Stage)
	case process.CommandDosed:
		what = "curing salt weighed for each slab"
	case process.CommandReading:
		what = fmt.Sprintf("hand reading %s %v: %.1f °C", c.Placement, c.Pieces, c.Value)
	case process.CommandAcknowledge:
		what = "on it: " + c.Entry
	}
	line := fmt.Sprintf("%s  %-5s %s", stamp(c.At), c.By, what)
	if c.Text != "" && c.Kind != process.CommandNew {
		line += ": " + c.Text
	}
	fmt.Fprintln(s.Print, line)
}

func stamp(t time.Time) string { return t.Format("Mon 02 Jan 15:04") }
