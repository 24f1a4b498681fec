package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Ways that nothing would go, or not what can wait, do not pass in silence.
func TestCheckTellsOfWaysThatLeadNowhere(t *testing.T) {
	people := strings.Index(rehearsedHouse, "[[person]]")
	for name, c := range map[string]struct {
		text, want string
		code       int
	}{
		"rings only":       {strings.ReplaceAll(rehearsedHouse[:people], `kind = "http"`, "kind = \"http\"\nlevel = \"ring\""), `type: level = "tell" in one of them`, exitFine},
		"backups only":     {strings.ReplaceAll(rehearsedHouse[:people], `kind = "http"`, "kind = \"http\"\nbackup = true"), "28: channel.backup: no channel is used while all is well", exitProblem},
		"a tell as backup": {strings.Replace(strings.ReplaceAll(rehearsedHouse[:people], `kind = "http"`, "kind = \"http\"\nlevel = \"ring\""), `level = "ring"`, "level = \"tell\"\nbackup = true", 1), "every channel takes rings only", exitFine},
		"both":             {rehearsedHouse, "2 channels\n", exitFine},
	} {
		file := filepath.Join(t.TempDir(), "flitch.toml")
		if err := os.WriteFile(file, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		var out, complaints bytes.Buffer
		code := execute([]string{"check", "--config", file}, terminal{out: &out, err: &complaints, env: os.Getenv})
		if code != c.code || !strings.Contains(out.String(), c.want) || name == "both" && strings.Contains(out.String(), "note:") {
			t.Errorf("%s: code %d\n%s%s", name, code, &out, &complaints)
		}
	}
}
