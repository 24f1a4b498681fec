package app

import (
	"net/http"
	"strings"
	"testing"

	"flitch/alerts/push/pushtest"
	"flitch/cmd/flitch/internal/api"
)

// A browser changes its subscription: the phone rings on under its number, its name and
// its person, also when the old one had ended; the old address is of no more use.
func TestAPhoneWhoseSubscriptionChangedRingsOn(t *testing.T) {
	s, service := pushShop(t)
	s.addPhone(service, "grey")
	s.addPhone(service, "red")
	old := service.Server.URL + "/send/grey"
	service.Answer("grey", http.StatusGone)
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	changed := asks(service, "grey-2", pushtest.NewBrowser()).Subscription
	for what, n := range map[string]api.Renewal{"an address that is not on the list": {Old: old + "x", Subscription: changed}, "no address": {Subscription: changed},
		"no subscription": {Old: old}, "the subscription of another": {Old: old, Subscription: asks(service, "red", pushtest.NewBrowser()).Subscription}} {
		if status, said := s.send("/api/phones/renewed", n); status < 400 || status >= 500 || !strings.Contains(said, "hint") {
			t.Errorf("%s: %d %s", what, status, said)
		}
	}
	if status, said := s.send("/api/phones/renewed", api.Renewal{Old: old, Subscription: changed}); status != http.StatusOK || !strings.Contains(said, "phone 1 rings on") {
		t.Fatalf("%d %s", status, said)
	}
	s.settle()
	phones, err := s.app.db.Phones()
	if err != nil || len(phones) != 2 || phones[0].Name != "grey" || phones[0].Person != "T.V." || !phones[0].Ended.IsZero() || phones[0].Endpoint != changed.Endpoint {
		t.Fatalf("phones %+v, %v", phones, err)
	}
	if list := s.app.faults.List(); len(list) != 0 {
		t.Errorf("faults %+v", list)
	}
	if lines := s.journal("phone renewed"); len(lines) != 1 || lines[0] != "flitch: phone 1 (grey, T.V.) has a new subscription for push" {
		t.Errorf("journal %q", lines)
	}
	s.fridgeWarm(22*minute, 60*minute)
	if got := service.Got("grey-2"); len(got) == 0 {
		t.Errorf("the new subscription was never rung; faults %q", service.Faults())
	}
	if status, _ := s.send("/api/phones/renewed", api.Renewal{Old: old, Subscription: changed}); status != http.StatusNotFound {
		t.Errorf("the old address is good for another: %d", status)
	}
}

// The worker of a phone has no session when the browser changes its subscription at
// night: its old address is its proof, and shows nobody the list.
func TestARenewalNeedsNoSignIn(t *testing.T) {
	s, _ := signedShop(t)
	if status, said := s.send("/api/phones/renewed", api.Renewal{Old: "https://push.example/guessed"}); status != http.StatusNotFound || !strings.Contains(said, "no phone on the list") {
		t.Errorf("a renewal: %d %s", status, said)
	}
	for path, body := range map[string]any{"/api/phones": api.NewPhone{By: "T.V."}, "/api/phones/remove": map[string]any{"phone": 1, "by": "T.V."}} {
		if status, said := s.send(path, body); status != http.StatusUnauthorized {
			t.Errorf("%s: %d %s", path, status, said)
		}
	}
	for path, want := range map[string]int{"/api/phones": http.StatusUnauthorized, "/icon-192.png": http.StatusOK} {
		resp, err := http.Get(s.app.Address() + path)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != want {
			t.Errorf("GET %s: %s", path, resp.Status)
		}
	}
}
