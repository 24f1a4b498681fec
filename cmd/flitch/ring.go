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
	return "The message goes out from here, not through a running daemon, and is not in any record.\n\nExample:\n\n    flitch ring --channel tv-phone"
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
	channel, err := app.Channel(named)
	if err != nil {
		return fmt.Errorf("making the channel: %w", err)
	}
	policy := alerts.Policy{Location: loaded.Site.Zone, Channels: []alerts.ChannelPolicy{{Name: c.Channel}}}
	receipt, err := channel.Send(context.Background(), policy.Test(t.now())[0])
	if err != nil {
		return problem("the keys of that channel in "+c.Config, "%s did not take it: %v", c.Channel, err)
	}
	_, err = fmt.Fprintf(t.out, "%s took it: %s\nnow look whether it arrived\n", c.Channel, receipt)
	return err
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
