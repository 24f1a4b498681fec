package config

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"strings"
	"testing"
)

func TestSecretNeverPrints(t *testing.T) {
	secret := NewSecret("hunter2")
	if secret.Reveal() != "hunter2" {
		t.Fatal("the secret is lost")
	}
	inside := struct {
		Open   Secret
		closed Secret
		list   map[string]Secret
	}{secret, secret, map[string]Secret{"token": secret}}

	var shown bytes.Buffer
	for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%q", "%x", "%d"} {
		fmt.Fprintf(&shown, verb+"\n", secret)
		fmt.Fprintf(&shown, verb+"\n", inside)
		fmt.Fprintf(&shown, verb+"\n", &inside)
	}
	if err := json.NewEncoder(&shown).Encode(inside); err != nil {
		t.Fatal(err)
	}
	slog.New(slog.NewTextHandler(&shown, nil)).Info("start", "secret", secret, "inside", inside)
	slog.New(slog.NewJSONHandler(&shown, nil)).Info("start", "secret", secret, "inside", inside)

	for _, form := range []string{"hunter2", fmt.Sprintf("%x", "hunter2")} {
		if strings.Contains(shown.String(), form) {
			t.Errorf("%q is shown:\n%s", form, shown.String())
		}
	}
	if !strings.Contains(shown.String(), hidden) {
		t.Error("nothing was printed at all")
	}
}

func TestLoadPublicOpensNoSecret(t *testing.T) {
	t.Setenv("FLITCH_TEST_URL", "https://push.example/larder")
	config, err := LoadPublic("testdata/configs/good-full.toml")
	if err != nil {
		t.Fatal(err)
	}
	if got := config.Broker.Users[0].Password.Reveal(); got != hidden {
		t.Errorf("password is %q", got)
	}
	loaded, err := Load("testdata/configs/good-full.toml")
	if err != nil {
		t.Fatal(err)
	}
	if got := loaded.Broker.Users[0].Password.Reveal(); got != "not-a-real-token" {
		t.Errorf("Load read %q", got)
	}
	if got := loaded.Channels[1].Secrets["url"].Reveal(); got != "https://push.example/larder" {
		t.Errorf("Load read %q from the environment", got)
	}
}
