package app

import (
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/broker"
)

// buildBroker opens the door for sensors; there is none with an outside broker.
func (a *App) buildBroker() (err error) {
	conf := a.cfg.Broker
	if conf.Mode != config.Embedded {
		return nil
	}
	users := map[string]broker.User{}
	for _, u := range conf.Users {
		users[u.Name] = broker.User{Secret: u.Password.Reveal(), Publish: u.MayPublish, Subscribe: u.MaySubscribe}
	}
	a.broker, err = broker.New(broker.Config{
		Listen: conf.Listen, TLS: a.brokerTLS, Users: users, Anonymous: conf.Anonymous, MaxRate: conf.MaxRate,
		FanOut: true, Own: a.cfg.Announce.Topic, Unmapped: a.unmapped, Twins: a.sawTwins, Kept: a.kept,
	}, a.ear(), Wall{}, a.log)
	return err
}

// Kept is what our own broker keeps for later subscribers, for a start anew.
func (a *App) Kept() []broker.Kept {
	if a.broker == nil {
		return nil
	}
	return a.broker.Kept()
}
