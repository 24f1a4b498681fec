package config

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write the expected texts anew, to be read before they are believed")

// Each file of testdata/configs has beside it what Load says of it: all
// problems, or what was understood.
func TestLoadSaysWhatIsWrong(t *testing.T) {
	t.Setenv("FLITCH_TEST_URL", "https://push.example/a-token-in-the-path")
	files, err := filepath.Glob("testdata/configs/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no files to test: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) { compare(t, file) })
	}
}

func compare(t *testing.T, file string) {
	config, err := Load(file)
	got := ""
	if err != nil {
		got = err.Error() + "\n"
	} else {
		got = summary(config)
	}
	if strings.Contains(got, "hunter2") || strings.Contains(got, "token-in-the-path") || strings.Contains(got, "not-a-real") || strings.Contains(got, "hunter") {
		t.Errorf("a secret is shown:\n%s", got)
	}
	golden := strings.TrimSuffix(file, ".toml") + ".txt"
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

// summary prints a whole configuration; secrets print as "(secret)".
func summary(c *Config) string {
	var b strings.Builder
	fmt.Fprintf(&b, "site    %+v\npage    %+v\nbroker  %+v\n", c.Site, c.Page, c.Broker)
	for _, place := range c.Places {
		alarms := place.Alarms
		place.Alarms = nil
		fmt.Fprintf(&b, "place   %+v\n", place)
		for _, c := range alarms {
			text, _ := json.Marshal(c) // its limits are pointers
			fmt.Fprintf(&b, "  alarm %s\n", text)
		}
	}
	for _, probe := range c.Probes {
		fmt.Fprintf(&b, "probe   %+v\n", probe)
	}
	for _, channel := range c.Channels {
		fmt.Fprintf(&b, "channel %+v\n", channel)
	}
	for _, person := range c.Persons {
		fmt.Fprintf(&b, "person  %+v\n", person)
	}
	if c.Heartbeat.URL.IsSet() || (c.TestRing != TestRing{true, time.Sunday, 11, 0}) || c.Announce.Topic != "flitch" {
		fmt.Fprintf(&b, "beat    %+v\nring    %+v\ntold    %+v\n", c.Heartbeat, c.TestRing, c.Announce)
	}
	if (c.Store != Store{}) {
		fmt.Fprintf(&b, "store   %+v\n", c.Store)
	}
	if c.Backup.Folder != "" {
		fmt.Fprintf(&b, "backup  %+v\n", c.Backup)
	}
	if c.Fleet.URL.IsSet() {
		fmt.Fprintf(&b, "fleet   %+v\n", c.Fleet)
	}
	if c.TurnsAt != 0 {
		fmt.Fprintf(&b, "turns   at %s\n", c.TurnsAt)
	}
	if c.Doubts != nil {
		fmt.Fprintf(&b, "doubts\n%s\n", c.Doubts)
	}
	return b.String()
}
