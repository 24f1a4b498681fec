package main

import (
	"testing"
	"time"

	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
)

// Whatever the configuration accepts, the room that sends accepts as well: a
// channel of each kind, with as little as its kind allows and with all of it.
func TestChannelsOfEachKindAreBuilt(t *testing.T) {
	loaded, err := config.Load("testdata/channels/flitch.toml")
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]bool{}
	for _, configured := range loaded.Channels {
		kinds[configured.Kind] = true
		channel, err := app.Channel(configured)
		if err != nil {
			t.Errorf("%s: %v", configured.Name, err)
			continue
		}
		want := 20 * time.Second
		if configured.Name == "hook" {
			want = 7 * time.Second
		}
		if channel.Name() != configured.Name || channel.Deadline() != want {
			t.Errorf("%s: became %s with %s to send", configured.Name, channel.Name(), channel.Deadline())
		}
	}
	if len(kinds) != len(push.Kinds()) {
		t.Errorf("only the kinds %v are tried out", kinds)
	}
}
