package soak

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The scripts of the long runs refuse what they do not know before anything runs, and take a
// name for a name. A go that only notes its call stands for the hours.
func TestTheScriptsOfLongRunsRefuseWhatTheyDoNotKnow(t *testing.T) {
	folder := t.TempDir()
	called := filepath.Join(folder, "called")
	if err := os.WriteFile(filepath.Join(folder, "go"), []byte("#!/bin/sh\necho \"$@\" >>"+called+"\nexit 1\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	run := func(args ...string) (text string, runs int) {
		_ = os.Remove(called)
		c := exec.Command("sh", args...)
		c.Dir = "../../../.."
		c.Env = append(os.Environ(), "PATH="+folder+string(os.PathListSeparator)+os.Getenv("PATH"))
		out, err := c.CombinedOutput()
		if err == nil {
			t.Errorf("%v ended as if all were well: %s", args, out)
		}
		notes, _ := os.ReadFile(called)
		return string(out), strings.Count(string(notes), "\n")
	}
	for _, c := range []struct{ args, want string }{
		{"deploy/bench.sh bogus", "type: sh deploy/bench.sh"}, {"deploy/bench.sh --help", "type: sh deploy/bench.sh"},
		{"deploy/soak.sh files bogus", "there is no suite bogus; there are: hour"}, {"deploy/soak.sh .*", "there is no suite .*; there are: hour"},
		{"deploy/soak.sh --help", "there is no suite --help; there are: hour"}, {"deploy/soak.sh", "say which: sh deploy/soak.sh hour"},
		{"deploy/soak.sh fil", "there is no suite fil;"},
	} {
		if text, runs := run(strings.Fields(c.args)...); runs != 0 || !strings.Contains(text, c.want) {
			t.Errorf("%s: ran %d, %s", c.args, runs, text)
		}
	}
	if text, runs := run("deploy/soak.sh", "files"); runs != 1 || !strings.Contains(text, "# files: FLITCH_KILL_STRIDE=1") {
		t.Errorf("a suite: ran %d, %s", runs, text)
	}
}
