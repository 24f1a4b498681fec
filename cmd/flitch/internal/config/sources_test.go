package config

import "testing"

func TestSameNumber(t *testing.T) {
	list := func(each, value string) Payload { return Payload{List: true, Each: each, Value: value} }
	at := func(value string) Payload { return Payload{Value: value} }
	of := func(id, idAt string) Payload { return Payload{Value: "/t", ID: id, IDAt: idAt} }
	for _, c := range []struct {
		a, b Payload
		want bool
	}{
		{at(""), at(""), true},
		{at("/t"), at("/t"), true},
		{at("/t"), at(""), false},
		{at("/t"), at("/u"), false},
		{at("/probes/0/t"), at("/probes/1/t"), false},
		{at("/probes/0/t"), at("/probes/[ch=1]/t"), true}, // may be
		{at("/probes/[ch=1]/t"), at("/probes/[ch=2]/t"), false},
		{at("/probes/[ch=1]/t"), at("/probes/[ch=1]/t"), true},
		{at("/probes/[ch=1]/t"), at("/probes/[ch=1]/rh"), false},
		{at("/probes/a/t"), at("/probes/[ch=1]/t"), false},
		{list("/log", "/v"), list("/log", "/v"), true},
		{list("/log", "/v"), list("/log", "/w"), false},
		{list("/log", "/v"), list("/log/[ch=1]", "/v"), true},
		{list("/log/[ch=2]", "/v"), list("/log/[ch=1]", "/v"), false},
		{list("/log", "/v"), at("/log/3/v"), true},
		{list("", "/1"), at("/3/1"), true},
		{list("", "/1"), at("/3"), false},
		{list("", ""), at("/3"), true},
		{of("a", "/id"), of("b", "/id"), false},
		{of("a", "/id"), of("a", "/id"), true},
		{of("a", "/id"), at("/t"), true},
		{of("a", InTopic), at("/t"), true}, // the topics tell these apart
	} {
		for _, pair := range [][2]Payload{{c.a, c.b}, {c.b, c.a}} {
			if got := pair[0].sameNumber(pair[1]); got != c.want {
				t.Errorf("%+v and %+v: %t", pair[0], pair[1], got)
			}
		}
	}
}

func TestTopicsThatShare(t *testing.T) {
	for _, c := range []struct {
		a, b                  string
		share, aCovers, below bool
	}{
		{"a/b", "a/b", true, true, false},
		{"a/+", "a/b", true, true, false},
		{"a/b", "a/+", true, false, false},
		{"+/b", "a/+", true, false, false},
		{"a/+", "b/+", false, false, false},
		{"a/+", "a/b/c", false, false, false},
		{"flitch/x", "flitch", false, false, true},
		{"+/x", "flitch", false, false, true},
		{"larder/x", "flitch", false, false, false},
	} {
		if share(c.a, c.b) != c.share || share(c.b, c.a) != c.share || covers(c.a, c.b) != c.aCovers || (Payload{Topic: c.a}).isBelow(c.b) != (c.below || c.share) {
			t.Errorf("%q and %q: share %t, covers %t, below %t", c.a, c.b, share(c.a, c.b), covers(c.a, c.b), Payload{Topic: c.a}.isBelow(c.b))
		}
	}
}
