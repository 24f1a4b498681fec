package config

import (
	"strings"
	"testing"
)

func TestIndexKnowsTheLine(t *testing.T) {
	const text = `a = 1

[site] # a comment
"na me" = '''
three
lines'''
zone.x = 2
in = { b = 1, c = { d = 2 } }

[[probe]]
x = [
  1,
  2,
]
y = 1

[[probe]]
y = 2

[probe.sub]
z = 3

[[probe.many]]
q = 1
[[probe.many]]
q = 2
`
	want := map[string]int{
		"a": 1, "site": 3, "site.na me": 4, "site.zone": 7, "site.zone.x": 7,
		"site.in": 8, "site.in.b": 8, "site.in.c.d": 8,
		"probe": 10, "probe[0]": 10, "probe[0].x": 11, "probe[0].y": 15,
		"probe[1]": 17, "probe[1].y": 18, "probe[1].sub": 20, "probe[1].sub.z": 21,
		"probe[1].many[0].q": 24, "probe[1].many[1]": 25, "probe[1].many[1].q": 26,
	}
	got := indexOf([]byte(text))
	for path, line := range want {
		if got[path] != line {
			t.Errorf("%s: line %d, want %d", path, got[path], line)
		}
	}
}

// Without a bound, the paths of this file alone would be gigabytes of text.
func TestDeepKeysEnd(t *testing.T) {
	deep := strings.Repeat("a.", 100_000) + "a = 1\nsite = 2\n"
	if got := indexOf([]byte(deep))["site"]; got != 2 {
		t.Errorf("site is on line %d", got)
	}
}
