package app

import (
	"context"
	"strings"
	"testing"
)

// A probe whose messages are of no use says why, until a reading comes.
func TestAProbeSaysWhyItIsNotRead(t *testing.T) {
	s := newShop(t)
	s.open()
	refused := func(name string) string {
		t.Helper()
		probes, err := (&reader{app: s.app, site: s.app.site()}).Probes(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range probes {
			if p.Probe == name {
				return p.Refused
			}
		}
		t.Fatalf("no probe %s", name)
		return ""
	}
	s.read("slow", 3.4)
	s.at(minute)
	s.say("shop/slow", `{"temperature":3.4}`)
	s.say("shop/slow/else", `{"temperature":3.4}`)
	s.settle()
	if why := refused("slow"); !strings.Contains(why, `nothing at "/v"`) {
		t.Errorf("slow: %q", why)
	}
	if why := refused("core"); why != "" {
		t.Errorf("core, which sent nothing: %q", why)
	}
	s.at(2 * minute)
	s.read("slow", 3.5)
	s.settle()
	if why := refused("slow"); why != "" {
		t.Errorf("after a reading: %q", why)
	}
}

func TestTopicsOfAFilter(t *testing.T) {
	for _, c := range []struct {
		topic, filter string
		want          bool
	}{{"a/b", "a/b", true}, {"a/b", "a/+", true}, {"a/b/c", "a/+", false}, {"a", "a/+", false}, {"x/b", "+/b", true}, {"a/b", "a/c", false}} {
		if got := isOn(c.topic, c.filter); got != c.want {
			t.Errorf("%s on %s: %v", c.topic, c.filter, got)
		}
	}
}
