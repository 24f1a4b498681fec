package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/web"
	"flitch/ingest/decode"
	"flitch/process"
)

// lookEvery is how often the daemon is asked what arrived: proposal.
const lookEvery = time.Second

type listenCommand struct {
	daemonFlags
	For      time.Duration `help:"How long to listen; until Ctrl-C when left out." placeholder:"1m"`
	Topic    string        `help:"Only this topic." placeholder:"TOPIC"`
	Value    *string       `help:"Print the lines of the configuration for this number of --topic: its JSON pointer, or \"\" for the whole message." placeholder:"/POINTER"`
	Name     string        `help:"Name of the new probe." placeholder:"NAME"`
	Place    string        `help:"Where it is." placeholder:"PLACE"`
	Measures string        `help:"What it measures: core, chamber, product, air and others." placeholder:"WHAT"`
	Unit     string        `help:"C, F or K." placeholder:"UNIT"`
	Interval string        `help:"How often it sends; as it was heard when left out." placeholder:"15s"`
	Save     bool          `help:"Write it into the configuration; flitch then starts anew with it."`
	By       string        `help:"Your initials ($FLITCH_BY), for --save." placeholder:"INITIALS"`
}

// Help shows examples.
func (listenCommand) Help() string {
	return "Shows every message that arrives and which of its numbers no probe reads yet. Examples:\n\n    flitch listen --for 1m\n    flitch listen --topic shed/box --value /t2\n    flitch listen --topic shed/box --value /t2 --name core-2 --place old-kettle --measures core --unit C --save --by T.V."
}

// Run shows what arrives, or makes lines of one number.
func (c listenCommand) Run(t terminal) error {
	switch {
	case c.Value != nil && c.Topic == "":
		return misuse("--topic shed/box --value "+*c.Value, "a number is on a topic")
	case c.Save && c.Value == nil:
		return misuse("--topic shed/box --value /t2 --save", "which number is to be saved")
	case c.For < 0:
		return misuse("--for 1m", "%s is no time to listen for", c.For)
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	if c.For > 0 {
		var end context.CancelFunc
		ctx, end = context.WithTimeout(ctx, c.For)
		defer end()
	}
	if c.Value != nil {
		return c.pick(ctx, t, daemon)
	}
	return c.live(ctx, t, daemon)
}

// live prints each new message until ctx ends.
func (c listenCommand) live(ctx context.Context, t terminal, d *daemon) error {
	var seen int64
	free := false
	for {
		var heard web.Heard
		if err := d.get("/api/heard", &heard); err != nil {
			return err
		}
		newest := seen
		for _, topic := range heard.Topics {
			if topic.Seq > seen && (c.Topic == "" || c.Topic == topic.Topic) {
				printHeard(t.out, d, topic)
				newest, free = max(newest, topic.Seq), free || len(topic.Numbers()) > 0
			}
		}
		seen = newest
		if !pause(ctx) {
			break
		}
	}
	switch {
	case seen == 0:
		return problem("let the board publish; sensors connect where flitch run says broker", "nothing arrived")
	case free:
		fmt.Fprintln(t.out, "to make a probe of a free number: flitch listen --topic TOPIC --value /POINTER")
	}
	return nil
}

// pause waits for the next look; false when it is over.
func pause(ctx context.Context) bool {
	select {
	case <-ctx.Done():
		return false
	case <-time.After(lookEvery):
		return true
	}
}

func printHeard(out io.Writer, d *daemon, topic web.HeardTopic) {
	when := d.clock(topic.Last)
	if topic.Retained {
		when = "kept by the broker, of unknown age"
	}
	fmt.Fprintf(out, "%s  %s\n", shown(topic.Topic), when)
	if topic.Problem != "" {
		fmt.Fprintf(out, "    %s\n", shown(topic.Problem))
	}
	for _, v := range topic.Values {
		use := "free"
		switch {
		case v.Probe != "":
			use = "probe " + v.Probe
		case v.Kind == decode.FoundTime:
			use = "a time, " + string(v.Format)
		case v.Protocol != "":
			use = "free, by " + v.Protocol
		}
		if v.Each != "" {
			use += ", and every other in the list"
		}
		pointer := v.Pointer
		if pointer == "" {
			pointer = `""`
		}
		fmt.Fprintf(out, "    %-24s %-12s %s\n", shown(pointer), shown(v.Text), shown(use))
	}
	if topic.More > 0 {
		fmt.Fprintf(out, "    and %d more\n", topic.More)
	}
}

// pick waits until the number was heard and prints the lines for it, or saves them.
func (c listenCommand) pick(ctx context.Context, t terminal, d *daemon) error {
	topic, err := c.await(ctx, d)
	if err != nil {
		return err
	}
	probe := c.probe(topic)
	lines, err := probe.Lines()
	if err != nil {
		return err
	}
	fmt.Fprint(t.out, lines)
	if !c.Save {
		return nil
	}
	by, err := orderFlags{By: c.By}.signature(t)
	if err != nil {
		return err
	}
	var answer struct {
		Message string `json:"message"`
	}
	body := struct {
		config.NewProbe
		By string `json:"by"`
	}{probe, by}
	text, err := json.Marshal(body)
	if err == nil {
		err = d.silent(d.postOnce("/api/probes", text, &answer), true)
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(t.out, answer.Message)
	return err
}

// probe is what the message tells of the number, with what was said of it.
func (c listenCommand) probe(topic web.HeardTopic) config.NewProbe {
	var v web.HeardValue
	for _, v = range topic.Values {
		if v.Pointer == *c.Value {
			break
		}
	}
	probe := topic.Begin(v)
	probe.Name, probe.Place, probe.Measures = c.Name, c.Place, c.Measures
	probe.Interval = cmp.Or(c.Interval, topic.Interval())
	switch {
	case c.Unit != "":
		probe.Unit, probe.UnitAt = c.Unit, ""
	case probe.UnitAt == "" && (c.Measures == "" || process.Placement(c.Measures).IsTemperature()):
		probe.UnitAt = v.UnitBeside
	}
	if times := topic.Times(v); len(times) > 0 {
		probe.Time, probe.TimeFormat = times[0].Within(), string(times[0].Format)
	}
	return probe
}

// await waits until the topic has brought the number.
func (c listenCommand) await(ctx context.Context, d *daemon) (web.HeardTopic, error) {
	known := []string{}
	for {
		var heard web.Heard
		if err := d.get("/api/heard", &heard); err != nil {
			return web.HeardTopic{}, err
		}
		known = known[:0]
		for _, topic := range heard.Topics {
			known = append(known, topic.Topic)
			if topic.Topic == c.Topic {
				return topic, c.judge(topic)
			}
		}
		if !pause(ctx) {
			break
		}
	}
	hint := "let the board publish, and listen for longer"
	if len(known) > 0 {
		hint = "one of " + strings.Join(known, ", ")
	}
	return web.HeardTopic{}, problem(hint, "nothing arrived on %q", c.Topic)
}

// judge says whether the number is there and free.
func (c listenCommand) judge(topic web.HeardTopic) error {
	var free []string
	for _, v := range topic.Values {
		switch {
		case v.Pointer == *c.Value && v.Probe != "":
			return problem("another number", "%s %s feeds probe %s already", c.Topic, v.Pointer, v.Probe)
		case v.Pointer == *c.Value && v.Kind == decode.FoundTime:
			return problem("another number", "%s %s is a time, %s", c.Topic, v.Pointer, v.Text)
		case v.Pointer == *c.Value:
			return nil
		case v.Probe == "" && v.Kind != decode.FoundTime:
			free = append(free, "--value "+v.Pointer)
		}
	}
	if topic.Problem != "" {
		return errors.New(c.Topic + ": " + topic.Problem)
	}
	return problem(strings.Join(free, " or "), "%s has nothing at %q", c.Topic, *c.Value)
}
