package push

import (
	"fmt"
	"net/url"
	"regexp"

	"flitch/alerts"
)

const ntfyLength = 1300 // of 4096 bytes; what is longer becomes a file (from memory)

// ntfy publishes to a topic of a ntfy server, the public one or one's own
// (ntfy documentation, Publish as JSON). Whoever knows the topic of a server
// without sign-in can read along.
func ntfy(c *Channel, s Settings) error {
	if err := need("target", s.Target); err != nil {
		return err
	}
	if s.Server == "" {
		s.Server = "https://ntfy.sh"
	}
	if _, err := webAddress(s.Server); err != nil {
		return fmt.Errorf("server %w", err)
	}
	c.secrets = append(c.secrets, s.Target)
	c.limit = ntfyLength
	c.notifier = &poster{client: newClient(s), headers: bearer(s.Token), taken: field("id"),
		write: func(m alerts.Message, subject, body string) letter {
			priority := 3 // as the phone is set
			if m.Level == alerts.Ring {
				priority = 5 // long vibration, over the lock screen
			}
			return letter{url: s.Server, content: map[string]any{"topic": s.Target, "title": subject, "message": body, "priority": priority}}
		}}
	return nil
}

// telephone is a number as E.164 writes it.
var telephone = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`)

// twilio sends a text message to a telephone (Twilio, Messages resource): the way
// to a phone without internet.
func twilio(c *Channel, s Settings) error {
	if err := need("account", s.Target, "token", s.Token, "from", s.From, "to", s.To); err != nil {
		return err
	}
	server, err := gateway(s, "https://api.twilio.com")
	if err != nil {
		return err
	}
	address := server.JoinPath("2010-04-01/Accounts", url.PathEscape(s.Target), "Messages.json").String()
	c.text(s, field("sid"), func(text string) letter {
		return letter{url: address, content: url.Values{"From": {s.From}, "To": {s.To}, "Body": {text}}}
	})
	return nil
}
