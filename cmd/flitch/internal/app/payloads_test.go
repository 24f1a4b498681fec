package app

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// payloadCases is the least number of cases in testdata/payloads: a file that is not
// found must not pass.
const payloadCases = 120

// A payloadCase is one "== name" of testdata/payloads; its README says how it is
// written.
type payloadCase struct {
	where, name string
	probes      []string // the keys of each probe, TOML
	messages    []payloadMessage
}

type payloadMessage struct {
	line     int
	arrived  time.Time
	topic    string // empty: the topic of the first probe
	payload  string
	retained bool
	want     []string
}

// readPayloads reads every file of the corpus.
func readPayloads(t *testing.T) []payloadCase {
	t.Helper()
	files, err := filepath.Glob("../../../../testdata/payloads/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no payloads: %v", err)
	}
	var all []payloadCase
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		cases, err := parsePayloads(filepath.Base(file), string(text))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, cases...)
	}
	if len(all) < payloadCases {
		t.Fatalf("%d cases, want %d", len(all), payloadCases)
	}
	return all
}

func parsePayloads(file, text string) (all []payloadCase, err error) {
	var c *payloadCase
	var next payloadMessage
	for i, line := range strings.Split(text, "\n") {
		mark, rest, _ := strings.Cut(line, " ")
		switch {
		case line == "" || mark == "#":
			continue
		case mark == "==":
			all = append(all, payloadCase{where: fmt.Sprintf("%s:%d", file, i+1), name: rest, probes: []string{""}})
			c = &all[len(all)-1]
			next = payloadMessage{arrived: time.Date(2031, 5, 2, 12, 0, 0, 0, time.UTC)}
			continue
		case c == nil:
			return nil, fmt.Errorf("%s:%d: before the first ==", file, i+1)
		}
		switch mark {
		case "[[probe]]":
			c.probes = append(c.probes, "")
		case "@":
			next.arrived, err = time.Parse(time.RFC3339Nano, rest)
		case "on":
			next.topic = rest
		case ">", ">>", "retained>":
			next.line, next.payload, next.retained = i+1, rest, mark == "retained>"
			if mark == ">>" {
				next.payload, err = strconv.Unquote(rest)
			}
			c.messages = append(c.messages, next)
		case "=", "!", "-", "absorbed":
			if len(c.messages) == 0 {
				return nil, fmt.Errorf("%s:%d: no message before it", file, i+1)
			}
			m := &c.messages[len(c.messages)-1]
			m.want = append(m.want, line)
		default: // a key of the probe
			c.probes[len(c.probes)-1] += line + "\n"
		}
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", file, i+1, err)
		}
	}
	return all, nil
}

// configText is a whole configuration with the probes of the case, of which only the
// keys that matter stand in the file.
func (c payloadCase) configText(prefix string) string {
	var b strings.Builder
	b.WriteString("[site]\nname = \"Plover Shed\"\nzone = \"UTC\"\n\n[[place]]\nname = \"alder\"\nkind = \"fridge\"\n\n[[place]]\nname = \"kettle\"\nkind = \"smoker\"\nfuel = \"wood\"\n")
	for i, keys := range c.probes {
		has := func(key string) bool { return strings.Contains("\n"+keys, "\n"+key+" = ") }
		fmt.Fprintf(&b, "\n[[probe]]\nname = \"%s%d\"\n", prefix, i+1)
		for _, d := range []struct{ key, value string }{{"place", "kettle"}, {"measures", "chamber"}, {"topic", "shed/grate"}} {
			if !has(d.key) {
				fmt.Fprintf(&b, "%s = %q\n", d.key, d.value)
			}
		}
		if !has("unit") && !has("unit_at") && (!has("measures") || strings.Contains(keys, `"core"`)) {
			b.WriteString("unit = \"C\"\n")
		}
		b.WriteString(keys)
	}
	return b.String()
}
