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

// Starts are the starts since the machine began that did not come to a good end, in a file beside the
// database. They are told apart by how long the machine runs: its clock may say anything.
type Starts struct{ path string }

// StartsOf is where they stand.
func StartsOf(database string) Starts { return Starts{database + ".starts"} }

// Begin notes a start of now.
func (s Starts) Begin() error {
	boot, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return nil // another system than Linux: nothing is known of it
	}
	return s.begin(strings.TrimSpace(string(boot)), sinceBoot())
}

// begin notes a start. The error is an ErrCrashes when too many came before it, at most once in
// half an hour; that the file cannot be written is none: the disk is told of otherwise.
func (s Starts) begin(boot string, now time.Duration) (err error) {
	told, starts := s.read(boot, now)
	tell := len(starts) >= mostCrashes && told == 0
	if tell {
		told = now
	}
	text := fmt.Sprintln(boot, int64(told.Seconds()))
	for _, at := range append(starts, now) {
		text += fmt.Sprintln(int64(at.Seconds()))
	}
	if keyfile.Write(s.path, []byte(text), 0o600) == nil && tell {
		return fmt.Errorf("%w: %d times within %v without being told to: its log says why (journalctl -u flitch)", ErrCrashes, len(starts), crashSpan)
	}
	return nil
}

// End forgets them: flitch was told to end.
func (s Starts) End() { _ = os.Remove(s.path) }

// read returns when people were told, zero if that is long ago, and the starts of late, by how long
// the machine ran then.
func (s Starts) read(boot string, now time.Duration) (told time.Duration, starts []time.Duration) {
	text, err := os.ReadFile(s.path)
	if err != nil {
		return 0, nil
	}
	words := strings.Fields(string(text))
	if len(words) == 0 || words[0] != boot {
		return 0, nil
	}
	for i, word := range words[1:] {
		seconds, err := strconv.ParseInt(word, 10, 32)
		at := time.Duration(seconds) * time.Second
		switch {
		case err != nil || at <= 0 || at > now || now-at >= crashSpan:
		case i == 0:
			told = at
		default:
			starts = append(starts, at)
		}
	}
	return told, starts[max(0, len(starts)-mostCrashes):]
}
