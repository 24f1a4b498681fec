package main

import (
	"strconv"

	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/config"
)

// pushSettings is a configured channel in the words of the room that sends.
func pushSettings(c config.Channel) push.Settings {
	s := push.Settings{Name: c.Name, Kind: c.Kind, Deadline: c.Deadline, Token: c.Secrets["token"].Reveal()}
	switch c.Kind {
	case "email":
		s.Host, s.TLS, s.User = c.Text["host"], c.Text["security"], c.Text["user"]
		s.Port, _ = strconv.Atoi(c.Text["port"]) // a whole number: config has checked it
		s.Password = c.Secrets["password"].Reveal()
		s.From, s.To = c.Text["from"], c.Text["to"]
	case "http":
		s.URL = c.Text["url"]
		if secret := c.Secrets["url"]; secret.IsSet() {
			s.URL = secret.Reveal()
		}
		if bearer := c.Secrets["bearer"]; bearer.IsSet() {
			s.Headers = map[string]string{"Authorization": "Bearer " + bearer.Reveal()}
		}
	case "pushover":
		s.Target = c.Secrets["user"].Reveal()
	case "telegram":
		s.Target = c.Text["chat"]
	case "pushbullet":
		s.Target = c.Text["device"]
	case "bark":
		s.Token, s.Server = c.Secrets["key"].Reveal(), c.Text["server"]
	}
	return s
}
