package main

import (
	"reflect"
	"testing"
	"time"

	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/config"
)

// Whatever the configuration accepts, the room that sends accepts as well, with
// each key in its place.
func TestChannelsReachPush(t *testing.T) {
	loaded, err := config.Load("testdata/channels/flitch.toml")
	if err != nil {
		t.Fatal(err)
	}
	const secret, usual = "fake-one", 20 * time.Second
	want := []push.Settings{
		{Name: "mail", Kind: "email", Deadline: usual, Host: "mail.larder.example", Port: 465, TLS: "tls", User: "flitch",
			Password: secret, From: `"flitch" <flitch@larder.example>`, To: "<tv@larder.example>"},
		{Name: "local-mail", Kind: "email", Deadline: usual, Host: "localhost", Port: 2525, TLS: "none",
			From: "<flitch@larder.example>", To: "<mo@larder.example>"},
		{Name: "hook", Kind: "http", Deadline: 7 * time.Second, URL: "https://push.example/larder",
			Headers: map[string]string{"Authorization": "Bearer " + secret}},
		{Name: "pushover", Kind: "pushover", Deadline: usual, Token: secret, Target: secret},
		{Name: "telegram", Kind: "telegram", Deadline: usual, Token: secret, Target: "-1001234567890"},
		{Name: "pushbullet", Kind: "pushbullet", Deadline: usual, Token: secret, Target: "phone of T.V."},
		{Name: "bark", Kind: "bark", Deadline: usual, Token: secret},
		{Name: "own-bark", Kind: "bark", Deadline: usual, Token: secret, Server: "https://bark.larder.example"},
	}
	if len(loaded.Channels) != len(want) {
		t.Fatalf("%d channels, want %d", len(loaded.Channels), len(want))
	}
	for i, channel := range loaded.Channels {
		settings := pushSettings(channel)
		if !reflect.DeepEqual(settings, want[i]) {
			t.Errorf("%s: settings differ from what is wanted", channel.Name) // not printed: they hold secrets
		}
		if _, err := push.New(settings); err != nil {
			t.Errorf("%s: %v", channel.Name, err)
		}
	}
}
