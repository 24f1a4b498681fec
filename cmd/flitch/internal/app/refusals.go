package app

import (
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/decode"
)

// newestRefusals is how many refused messages are looked through for those of a probe;
// proposal, some minutes of a board that sends nothing else.
const newestRefusals = 200

// addRefusals says of each probe why its newest message was of no use, when that came
// after its newest reading: a probe that was joined in the wrong words would else only
// be silent.
func (a *App) addRefusals(probes []api.Probe) error {
	refused, err := a.db.Rejections(newestRefusals)
	if err != nil {
		return err
	}
	for i := range probes {
		p := &probes[i]
		at := slices.IndexFunc(a.cfg.Probes, func(c config.Probe) bool { return c.Name == p.Probe })
		if at < 0 || a.cfg.Probes[at].Topic == "" {
			continue
		}
		filter := a.cfg.Probes[at].ReadFrom()
		n := slices.IndexFunc(refused, func(r decode.Rejection) bool { return isOn(r.Topic, filter) }) // the newest first
		if n >= 0 && refused[n].Received.After(p.Heard) {
			p.Refused, p.RefusedAt = refused[n].Reason, refused[n].Received
		}
	}
	return nil
}

// isOn reports whether a topic is one of a filter without # (MQTT 3.1.1, 4.7.1.3).
func isOn(topic, filter string) bool {
	parts, asked := strings.Split(topic, "/"), strings.Split(filter, "/")
	if len(parts) != len(asked) {
		return false
	}
	for i := range parts {
		if asked[i] != "+" && asked[i] != parts[i] {
			return false
		}
	}
	return true
}
