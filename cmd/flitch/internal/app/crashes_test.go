package app

import (
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"
)

// Many starts without a good end are told once in half an hour, few, or old ones, never.
func TestCrashesAreCounted(t *testing.T) {
	for _, c := range []struct {
		name  string
		every time.Duration
		ends  int // after so many starts flitch is told to end; 0: never
		want  []int
	}{
		{"again at once", 5 * time.Second, 0, []int{5, 365, 725}},
		{"killed by the watchdog", 190 * time.Second, 0, []int{5, 15, 25}},
		{"now and then", 20 * time.Minute, 0, nil},
		{"by hand", time.Second, 3, nil},
	} {
		starts := StartsOf(filepath.Join(t.TempDir(), "flitch.db"))
		var told []int
		for n := range 1000 {
			if err := starts.begin("a-boot", time.Minute+time.Duration(n)*c.every); errors.Is(err, ErrCrashes) {
				told = append(told, n)
			} else if err != nil {
				t.Fatal(err)
			}
			if c.ends > 0 && (n+1)%c.ends == 0 {
				starts.End()
			}
		}
		if len(told) < len(c.want) || len(c.want) == 0 && len(told) > 0 {
			t.Errorf("%s: told at the starts %v, want %v and so on", c.name, told, c.want)
			continue
		}
		for i, n := range c.want {
			if told[i] != n {
				t.Errorf("%s: told at the starts %v, want %v and so on", c.name, told[:len(c.want)], c.want)
				break
			}
		}
	}
}

// Each boot counts by itself, and who cannot note that it was told does not tell.
func TestABootIsNoCrash(t *testing.T) {
	starts := StartsOf(filepath.Join(t.TempDir(), "flitch.db"))
	for n := range 20 {
		if err := starts.begin(fmt.Sprint("boot-", n), 20*time.Second); err != nil {
			t.Fatalf("the power failed %d times: %v", n, err)
		}
	}
	nowhere := StartsOf(filepath.Join(t.TempDir(), "away", "flitch.db"))
	for n := range 20 {
		if err := nowhere.begin("a-boot", time.Duration(n)*time.Second); err != nil {
			t.Fatal(err)
		}
	}
}
