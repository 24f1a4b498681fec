package push

import (
	"encoding/json"
	"net/url"
	"strings"

	"flitch/alerts"
)

// Longest bodies, in characters, from memory of each service's documentation and
// less room for the first line.
const (
	slackLength      = 3500
	mattermostLength = 3500 // of 16383; a server may be set to less
	rocketChatLength = 4500 // of 5000, which an administrator may change
	discordLength    = 1700 // of 2000
	teamsLength      = 6000 // of 28 KB for the whole request
	googleChatLength = 3500 // of 4096
)

// webhook makes a channel that posts content to an address that is itself the
// secret: whoever knows an incoming webhook may write there.
func webhook(c *Channel, s Settings, limit int, content func(subject, body string) any, taken func(string) (string, error)) error {
	if err := keepAddress(c, s); err != nil {
		return err
	}
	c.limit = limit
	c.notifier = &poster{client: newClient(s), taken: taken, write: func(_ alerts.Message, subject, body string) letter {
		return letter{url: s.URL, content: content(subject, body)}
	}}
	return nil
}

// text is the content that four of the services share.
func text(subject, body string) any { return map[string]any{"text": subject + "\n" + body} }

// said is a receipt of the answer itself.
func said(answer string) (string, error) { return shorten(answer, 80), nil }

func slack(c *Channel, s Settings) error {
	// Slack takes these three for marks of its own (Formatting text for app surfaces).
	escape := strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")
	return webhook(c, s, slackLength, func(subject, body string) any {
		return map[string]any{"text": escape.Replace(subject + "\n" + body), "unfurl_links": false}
	}, said)
}

func mattermost(c *Channel, s Settings) error { return webhook(c, s, mattermostLength, text, said) }

func googleChat(c *Channel, s Settings) error {
	return webhook(c, s, googleChatLength, text, field("name"))
}

func rocketChat(c *Channel, s Settings) error {
	return webhook(c, s, rocketChatLength, text, func(answer string) (string, error) {
		var result struct {
			Success *bool `json:"success"`
		}
		if json.Unmarshal([]byte(answer), &result) == nil && result.Success != nil && !*result.Success {
			return "", &alerts.SendError{Retry: true, Text: "answered 200 OK, but: " + answer}
		}
		return said(answer)
	})
}

// discord asks the service to wait until the message is there, and to answer with
// it (Discord, Execute Webhook). Nobody is mentioned and no link is looked at:
// flag 4 is SUPPRESS_EMBEDS.
func discord(c *Channel, s Settings) error {
	if u, err := url.Parse(s.URL); err == nil && s.URL != "" {
		query := u.Query()
		query.Set("wait", "true")
		u.RawQuery = query.Encode()
		c.secrets = append(c.secrets, s.URL)
		s.URL = u.String()
	}
	return webhook(c, s, discordLength, func(subject, body string) any {
		return map[string]any{"content": subject + "\n" + body, "flags": 4, "allowed_mentions": map[string]any{"parse": []string{}}}
	}, field("id"))
}

// teams sends a card to a workflow's webhook, as the older connectors take it
// too. Those answer 200 and put the trouble into the text, which is 1 when there
// was none.
func teams(c *Channel, s Settings) error {
	return webhook(c, s, teamsLength, card, func(answer string) (string, error) {
		if strings.Contains(strings.ToLower(answer), "failed") {
			return "", &alerts.SendError{Retry: true, Text: "answered 200 OK, but: " + answer}
		}
		return said(answer)
	})
}

// card is an Adaptive Card with a block for each line: in one block, line ends
// would be lost.
func card(subject, body string) any {
	block := func(text, weight string) map[string]any {
		return map[string]any{"type": "TextBlock", "text": text, "wrap": true, "weight": weight, "spacing": "Small"}
	}
	blocks := []map[string]any{block(subject, "Bolder")}
	for line := range strings.SplitSeq(body, "\n") {
		blocks = append(blocks, block(linked(line), "Default"))
	}
	return map[string]any{"type": "message", "summary": subject, "attachments": []map[string]any{{
		"contentType": "application/vnd.microsoft.card.adaptive",
		"content": map[string]any{"$schema": "http://adaptivecards.io/schemas/adaptive-card.json",
			"type": "AdaptiveCard", "version": "1.4", "body": blocks},
	}}}
}

// linked makes plain addresses such that a card can be tapped.
func linked(line string) string {
	words := strings.Split(line, " ")
	for i, word := range words {
		if strings.HasPrefix(word, "http://") || strings.HasPrefix(word, "https://") {
			words[i] = "[" + word + "](" + word + ")"
		}
	}
	return strings.Join(words, " ")
}
