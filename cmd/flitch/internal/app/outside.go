package app

import (
	"fmt"

	"flitch/alerts"
	"flitch/ingest/mqtt"
	"flitch/store"
)

// leftBehind is how many alarms of the past may have left a copy at the broker:
// proposal, some months of a bad house.
const leftBehind = 500

// buildState prepares what is told by MQTT; nothing is without a topic.
func (a *App) buildState() {
	if a.cfg.Announce.Topic == "" {
		return
	}
	s := newAlarmState(a.cfg.Announce.Topic)
	s.log, s.action = a.log, actions(catalogue(a.cfg))
	s.standing = func() ([]alerts.Occurrence, error) { return a.db.Occurrences(store.OccurrenceFilter{Active: true}) }
	s.past = func() ([]alerts.Occurrence, error) {
		return a.db.Occurrences(store.OccurrenceFilter{Limit: leftBehind})
	}
	s.shelf = func(o alerts.Occurrence) alerts.Shelf { return a.engine.Shelf(o.Entry, o.Subject) }
	a.state = s
}

// changed is told by the engine that something was evaluated.
func (a *App) changed() {
	a.events.Changed()
	a.state.changed()
	if a.house != nil {
		a.house.Idle(a.engine.Idle())
	}
}

// tellOutside starts what tells others of flitch and its sensors: batteries, the second ear of a
// failing disk, the heartbeat, the certificate, backups, the weekly test ring and the alarm state.
// It returns how to end each, in the order they were started.
func (a *App) tellOutside() (ends []func() error, err error) {
	if len(a.sensors.interval) > 0 {
		ends = append(ends, start("words of sensors", a.sensors.run).end)
	}
	if len(a.vitals.asked) > 0 {
		ends = append(ends, start("battery and signal", a.vitals.run).end)
	}
	if a.broker != nil {
		ends = append(ends, start("names of devices", a.endTwins).end)
	}
	if a.broker == nil {
		ends = append(ends, start("copies of readings", a.copies).end)
	}
	if a.heartbeat != nil {
		ends = append(ends, start("heartbeat", a.heartbeat.run).end)
	}
	if a.tls != nil || a.brokerTLS != nil {
		ends = append(ends, start("certificates", a.watchCertificate).end)
	}
	if a.cfg.Backup.Folder != "" {
		ends = append(ends, start("backups", a.backups).end)
	}
	if a.fleet != nil {
		ends = append(ends, start("fleet", a.fleet.Run).end)
	}
	if a.cfg.TestRing.On {
		ends = append(ends, start("test ring", a.weekly).end)
	}
	if a.cfg.Broker.Overhear != "" {
		hangUp, err := a.overhear()
		if err != nil {
			return ends, err
		}
		ends = append(ends, hangUp)
	}
	if a.state == nil {
		return ends, nil
	}
	hangUp, err := a.openState()
	if err != nil {
		return ends, err
	}
	return append(ends, hangUp, start("alarm state", a.state.run).end), nil
}

// openState finds the broker that keeps the state. An outside one gets a
// connection of its own with a last will, so that it says offline when we die.
func (a *App) openState() (hangUp func() error, err error) {
	if a.broker != nil {
		a.state.say = a.broker.Announce
		return func() error { return nil }, nil
	}
	conf := a.outsideBroker()
	conf.ClientID += "-state"
	will := mqtt.Will{Topic: a.state.prefix + "/state", Payload: offline}
	out, err := mqtt.NewAnnouncer(conf, will, a.state.connected)
	if err != nil {
		return nil, fmt.Errorf("alarm state: %w", err)
	}
	a.state.say = out.Announce
	return func() error { out.Close(); return nil }, nil
}

// outsideBroker says how to reach the broker of somebody else.
func (a *App) outsideBroker() mqtt.Config {
	b := a.cfg.Broker
	return mqtt.Config{URL: b.URL, ClientID: b.ClientID, Username: b.User, Password: b.Password.Reveal(), CAFile: b.CAFile,
		CertFile: b.ClientCertificate, KeyFile: b.ClientKey}
}
