package backup

import (
	"bytes"
	"context"
	"fmt"
	"os/exec"
	"strings"
	"time"
)

// handOnWithin bounds how long a copy may take to be handed on. Proposal: a slow line
// and a year of readings.
const handOnWithin = 30 * time.Minute

// HandOn runs the house's own command on a copy, which brings it to another machine: rsync
// and its like. {copy} in it stands for the folder. No shell takes part.
func HandOn(ctx context.Context, command []string, c Copy) error {
	ctx, done := context.WithTimeout(ctx, handOnWithin)
	defer done()
	args := make([]string, len(command))
	for i, a := range command {
		args[i] = strings.ReplaceAll(a, "{copy}", c.Folder)
	}
	var said bytes.Buffer
	run := exec.CommandContext(ctx, args[0], args[1:]...)
	run.Stdout, run.Stderr, run.WaitDelay = &said, &said, 10*time.Second
	if err := run.Run(); err != nil {
		return fmt.Errorf("backup: %s: %w: %s", args[0], err, lastLine(said.String()))
	}
	return nil
}

// lastLine is where programs say what went wrong.
func lastLine(text string) string {
	text = strings.TrimSpace(text)
	if i := strings.LastIndexByte(text, '\n'); i >= 0 {
		text = text[i+1:]
	}
	return text[:min(len(text), 200)]
}
