package app

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/keyfile"
)

// When it is told that flitch ends again and again: proposals. A supervisor that starts it again at
// once would do so for ever, and nobody would hear of it.
const (
	mostCrashes = 5
	crashSpan   = 30 * time.Minute
)

// ErrCrashes means that flitch has ended again and again without being told to.
var ErrCrashes = errors.New("flitch ends again and again")

// Starts are the starts that did not come to a good end, in a file beside the database, by the time
// of the machine.
type Starts struct{ path string }

// StartsOf is where they stand.
func StartsOf(database string) Starts { return Starts{database + ".starts"} }

// Begin notes a start. The error is an ErrCrashes when too many came before it, at most once in
// half an hour; that the file cannot be written is none: the disk is told of otherwise.
func (s Starts) Begin(now time.Time) (err error) {
	told, starts := s.read(now)
	if len(starts) >= mostCrashes && told == 0 {
		err = fmt.Errorf("%w: %d times within %v without being told to: look at its log (journalctl -u flitch) and at the power", ErrCrashes, len(starts), crashSpan)
		told = now.Unix()
	}
	text := fmt.Sprintln(told)
	for _, at := range append(starts, now.Unix()) {
		text += fmt.Sprintln(at)
	}
	_ = keyfile.Write(s.path, []byte(text), 0o600)
	return err
}

// End forgets them: flitch was told to end.
func (s Starts) End() { _ = os.Remove(s.path) }

// read returns when people were told, zero if that is long ago, and the starts of late.
func (s Starts) read(now time.Time) (told int64, starts []int64) {
	text, err := os.ReadFile(s.path)
	if err != nil {
		return 0, nil
	}
	late := func(at int64) bool { return now.Sub(time.Unix(at, 0)).Abs() < crashSpan }
	for i, word := range strings.Fields(string(text)) {
		at, err := strconv.ParseInt(word, 10, 64)
		switch {
		case err != nil || !late(at):
		case i == 0:
			told = at
		default:
			starts = append(starts, at)
		}
	}
	return told, starts[max(0, len(starts)-mostCrashes):]
}
