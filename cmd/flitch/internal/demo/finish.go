package demo

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"flitch/ingest/sim"
	"flitch/process/record"
)

// finish prints how the clocks stand and writes the record.
func (s *stage) finish(ctx context.Context) error {
	ctx = context.WithoutCancel(ctx) // a story that was stopped has a record too
	clocks, verdict, err := s.app.Clocks(sim.StoryBatch)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	fmt.Fprintf(s.Print, "\nClocks of batch %s, by the rules of plan %s:\n", sim.StoryBatch, storyPlan)
	for _, c := range clocks {
		fmt.Fprintf(s.Print, "  %-12s %-12s %s\n", c.Name, record.Verdict(c), record.Sum(c))
	}
	if verdict != "" {
		fmt.Fprintf(s.Print, "  %-12s %s\n", "batch", verdict)
	}
	if s.Out == "" {
		return nil
	}
	return s.write(ctx)
}

func (s *stage) write(ctx context.Context) error {
	if err := os.MkdirAll(s.Out, 0o755); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	for _, format := range []string{"csv", "json", "html", "pdf", "xlsx", "proof"} {
		path := filepath.Join(s.Out, "record."+format)
		if format == "proof" {
			path += ".gz"
		}
		file, err := os.Create(path)
		if err != nil {
			return fmt.Errorf("demo: %w", err)
		}
		err = s.app.WriteRecord(ctx, sim.StoryBatch, format, file)
		if err := errors.Join(err, file.Close()); err != nil {
			return fmt.Errorf("demo: write %s: %w", path, err)
		}
		fmt.Fprintln(s.Print, "wrote", path)
	}
	return nil
}
