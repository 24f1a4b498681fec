package app

import (
	"strconv"
	"time"

	"flitch/alerts"
	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/config"
)

// Channel builds the way to a phone that the configuration describes. One of kind
// push stands for phones: until there is one, this way says that nobody is there.
func Channel(c config.Channel) (*push.Channel, error) {
	s := push.Settings{
		Name: c.Name, Kind: c.Kind, Deadline: c.Deadline,
		Host: c.Text["host"], TLS: c.Text["security"], User: c.Text["user"], From: c.Text["from"], To: c.Text["to"],
		Password: c.Secrets["password"].Reveal(),
		URL:      c.Text["url"], Token: c.Secrets["token"].Reveal(), Server: c.Text["server"], Contact: c.Text["contact"],
	}
	s.Port, _ = strconv.Atoi(c.Text["port"]) // checked by config; none is zero
	switch c.Kind {
	case "http":
		if url := c.Secrets["url"].Reveal(); url != "" {
			s.URL = url
		}
		if bearer := c.Secrets["bearer"].Reveal(); bearer != "" {
			s.Headers = map[string]string{"Authorization": "Bearer " + bearer}
		}
	case "pushover":
		s.Target = c.Secrets["user"].Reveal()
	case "telegram":
		s.Target = c.Text["chat"]
	case "pushbullet":
		s.Target = c.Text["device"]
	case "bark":
		s.Token = c.Secrets["key"].Reveal()
	case "slack", "mattermost", "rocketchat", "discord", "teams", "googlechat":
		s.URL = c.Secrets["url"].Reveal()
	case "matrix":
		s.Target = c.Text["room"]
	case "ntfy":
		s.Target = c.Secrets["topic"].Reveal()
	case "twilio", "plivo":
		s.Target = c.Text["account"]
	}
	return push.New(s)
}

func (a *App) sent(channel string, s alerts.Settlement, took time.Duration) {
	counted, _ := channelOf(channel)
	a.metrics.Sent(counted, s, took)
	a.phoneAnswered(channel, s)
	a.events.Changed()
}
