package sparkplug

import (
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/ingest/decode"
	"flitch/testdata/published"
)

// The messages of another encoder, in their order, through one host.
func TestPublished(t *testing.T) {
	r := published.Open(t, "ingest/decode/sparkplug")
	r.Check("Sparkplug B messages of another encoder", "sparkplug_messages.csv", published.Tolerance{}, checkMessages)
	r.Close()
}

// the metrics somebody reads in these tests.
func wanted() []Wanted {
	node := Source{Group: "shop", Node: "kettle"}
	probes := Source{Group: "shop", Node: "kettle", Device: "probes"}
	out := []Wanted{{node, "room", false}}
	for _, m := range []string{"core", "grate", "door", "weight", "ticks", "tiny"} {
		out = append(out, Wanted{probes, m, false})
	}
	return out
}

func checkMessages(c *published.Check) {
	h := NewHost(wanted())
	for _, row := range c.Rows {
		body, err := hex.DecodeString(row.Text(c.T, "payload"))
		if err != nil {
			c.T.Fatal(err)
		}
		topic, want := row.Text(c.T, "topic"), row.Text(c.T, "expect")
		var got string
		if want == "asked" {
			if topic == RebirthTopic(Source{Group: "shop", Node: "kettle"}) && string(body) == string(Rebirth(time.UnixMilli(1935515643000))) {
				got = "asked"
			}
		} else if got = told(h.Take(topic, body, false)); !h.Reads(topic) {
			c.T.Errorf("%s: not read", topic)
		}
		c.Holds(row, got == want, "%s\n got %q\nwant %q", topic, got, want)
	}
}

// told puts what was heard into the words of the table.
func told(h Heard) string {
	var out []string
	for _, ch := range h.Changes {
		word := "back "
		if ch.Gone {
			word = "gone "
		}
		out = append(out, word+ch.Source.String())
	}
	for _, v := range h.Values {
		out = append(out, valueText(v))
	}
	if h.Rebirth != nil {
		out = append(out, "rebirth")
	}
	if h.Err != nil {
		out = append(out, "error "+string(decode.ClassOf(h.Err)))
	}
	return strings.Join(out, "; ")
}

func valueText(v Value) string {
	text := fmt.Sprintf("%s=%v", v.Metric, v.Number)
	var p *decode.Problem
	switch {
	case errors.As(v.Err, &p):
		text = fmt.Sprintf("%s: %s at %d %s", v.Metric, p.Class, v.Time.UnixMilli(), v.Unit)
	default:
		if v.Unit != "" {
			text += " " + v.Unit
		}
		text += fmt.Sprintf(" at %d", v.Time.UnixMilli())
	}
	if v.Historical {
		text += " historical"
	}
	return text
}
