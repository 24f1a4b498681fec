package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
)

type ringCommand struct {
	Channel string `help:"Name of the channel, as in the configuration." required:"" placeholder:"NAME"`
	Config  string `help:"Configuration to read." default:"flitch.toml" placeholder:"FILE"`
}

// Help shows an example.
func (ringCommand) Help() string {
	return "The message goes out from here, not through a running daemon, and is not in any record. A channel of kind push rings every phone that was added to it.\n\nExample:\n\n    flitch ring --channel tv-phone"
}

// Run sends one message and prints what the other side answered.
func (c ringCommand) Run(t terminal) error {
	loaded, err := config.Load(c.Config)
	if _, ok := errors.AsType[*config.Problems](err); ok {
		return problem("flitch check --config "+c.Config, "%s has problems", c.Config)
	}
	if err != nil {
		return unreadable(c.Config, err)
	}
	named, ok := loaded.ChannelNamed(c.Channel)
	if !ok {
		return problem(channelHint(loaded.Channels), "%s has no channel %q", c.Config, c.Channel)
	}
	ways, err := app.Channels(loaded, named)
	if err != nil {
		return fmt.Errorf("making the channel: %w", err)
	}
	policy := alerts.Policy{Location: loaded.Site.Zone, Channels: []alerts.ChannelPolicy{{Name: c.Channel}}}
	test := policy.Test(t.now())[0]
	var refused error // of the last that did not take it
	for _, way := range ways {
		receipt, err := way.Send(context.Background(), test)
		if err != nil {
			refused = problem("the keys of that channel in "+c.Config, "%s did not take it: %v", way.Name(), err)
			if len(ways) > 1 {
				fmt.Fprintf(t.out, "%s did not take it: %v\n", way.Name(), err)
			}
			continue
		}
		fmt.Fprintf(t.out, "%s took it: %s\nnow look whether it arrived\n", way.Name(), receipt)
	}
	return refused
}

func channelHint(channels []config.Channel) string {
	var names []string
	for _, c := range channels {
		names = append(names, c.Name)
	}
	if len(names) == 0 {
		return "adding a [[channel]]; the file that flitch init writes shows one"
	}
	return "--channel " + strings.Join(names, " or ")
}
