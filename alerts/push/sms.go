package push

import (
	"encoding/base64"
	"fmt"
	"net/url"
	"strings"

	"flitch/alerts"
)

// smsLength is of 1600 characters in up to ten parts, the most that these services join to
// one text (from memory).
const smsLength = 1300

// plivo sends a text message (Plivo, Send a Message: POST Account/{id}/Message/ with
// src, dst and text, by basic authentication).
func plivo(c *Channel, s Settings) error {
	if err := need("account", s.Target, "token", s.Token, "from", s.From, "to", s.To); err != nil {
		return err
	}
	server, err := gateway(s, "https://api.plivo.com")
	if err != nil {
		return err
	}
	address := server.JoinPath("v1/Account", url.PathEscape(s.Target), "Message/").String()
	c.text(s, field("message_uuid"), func(text string) letter {
		return letter{url: address, content: map[string]any{"src": s.From, "dst": s.To, "text": text}}
	})
	return nil
}

// textmagic sends a text message (Textmagic REST API v2, POST messages with phones, without
// the plus, and text, by basic authentication with the name of the account and a key).
// Without from it goes out under the number the account has set.
func textmagic(c *Channel, s Settings) error {
	if err := need("user", s.User, "token", s.Token, "to", s.To); err != nil {
		return err
	}
	server, err := gateway(s, "https://rest.textmagic.com")
	if err != nil {
		return err
	}
	address := server.JoinPath("api/v2/messages").String()
	s.Target = s.User
	c.text(s, field("id"), func(text string) letter {
		content := map[string]any{"phones": strings.TrimPrefix(s.To, "+"), "text": text}
		if s.From != "" {
			content["from"] = s.From
		}
		return letter{url: address, content: content}
	})
	return nil
}

// gateway is the server of an SMS service, and who is written to is a telephone.
func gateway(s Settings, public string) (*url.URL, error) {
	if !telephone.MatchString(s.To) {
		return nil, fmt.Errorf("to = %q is not a telephone number such as +441632960123", s.To)
	}
	if s.Server == "" {
		s.Server = public
	}
	server, err := webAddress(s.Server)
	if err != nil {
		return nil, fmt.Errorf("server %w", err)
	}
	return server, nil
}

// text makes c a channel of text messages, signed in as the account in the target.
func (c *Channel) text(s Settings, taken func(string) (string, error), write func(text string) letter) {
	pass := base64.StdEncoding.EncodeToString([]byte(s.Target + ":" + s.Token))
	c.secrets = append(c.secrets, pass)
	c.limit = smsLength
	c.notifier = &poster{client: newClient(s), headers: map[string]string{"Authorization": "Basic " + pass}, taken: taken,
		write: func(_ alerts.Message, subject, body string) letter { return write(subject + "\n" + body) }}
}
