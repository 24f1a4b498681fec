package config

import (
	"slices"
	"strconv"
	"time"
)

// Bounds of the time for one attempt to send: proposals. Longer than the most
// would hold up the next attempt of a message that should wake somebody.
const (
	defaultDeadline = 20 * time.Second
	leastDeadline   = time.Second
	mostDeadline    = 5 * time.Minute
)

func readChannels(tables []*table) []Channel {
	var seen names
	var channels []Channel
	for _, t := range tables {
		channel := Channel{
			Name:     seen.take(t, "tv-phone"),
			Level:    t.choice("level", "tell", "tell", "ring"),
			Backup:   t.yes("backup"),
			Deadline: t.duration("deadline", defaultDeadline, leastDeadline, mostDeadline),
			Text:     map[string]string{},
			Secrets:  map[string]Secret{},
		}
		readKind(t, &channel)
		t.finish()
		channels = append(channels, channel)
	}
	return channels
}

// doubtBackups speaks up where every channel waits for another to fail: no ring would
// reach anybody.
func doubtBackups(tables []*table, channels []Channel) {
	if len(channels) == 0 || slices.ContainsFunc(channels, func(c Channel) bool { return !c.Backup }) {
		return
	}
	tables[0].doubt("backup", "true", "no channel is used while all is well: a backup waits until another has failed, and no ring would reach anybody",
		"backup = false, or take the line out")
}

// readKind reads the keys of the kind.
func readKind(t *table, c *Channel) {
	c.Kind = t.choice("kind", "", "email", "http", "pushover", "telegram", "pushbullet", "bark", "ntfy", "twilio", "plivo", "textmagic",
		"slack", "mattermost", "rocketchat", "discord", "teams", "googlechat", "matrix", "push")
	switch c.Kind {
	case "email":
		readEmail(t, c)
	case "http":
		readHTTP(t, c)
	case "pushover":
		c.secret(t, "token")
		c.secret(t, "user")
	case "telegram":
		c.secret(t, "token")
		c.Text["chat"] = readChat(t)
	case "pushbullet":
		c.secret(t, "token")
		c.Text["device"] = t.need("device", "phone of T.V.")
	case "bark":
		c.secret(t, "key")
		c.Text["server"] = t.text("server")
		checkWeb(t, "server", c.Text["server"])
	case "slack", "mattermost", "rocketchat", "discord", "teams", "googlechat":
		c.secret(t, "url") // whoever knows the address may write there
	case "push":
		readPush(t, c)
	case "matrix", "ntfy", "twilio", "plivo", "textmagic":
		readService(t, c)
	default:
		t.loose = true // nobody can say which keys belong to an unknown kind
	}
}

// secret reads a secret the kind cannot do without.
func (c *Channel) secret(t *table, name string) {
	c.keep(name, t.secret(name, true))
}

func (c *Channel) keep(name string, secret Secret) {
	if secret.IsSet() {
		c.Secrets[name] = secret
	}
}

// readHTTP takes the address from a file when it holds a token, as it often does.
func readHTTP(t *table, c *Channel) {
	c.keep("bearer", t.secret("bearer", false))
	address := t.sealedText("url", false)
	c.keep("url", address)
	if t.has("url_file") || t.has("url_env") {
		if _, both := t.get("url"); both {
			t.problem("url", "", "and url_file are both given", "one of the two")
		}
		return
	}
	c.Text["url"] = t.need("url", "https://push.example/larder")
	checkWeb(t, "url", c.Text["url"])
}

// checkWeb never repeats the address: it may hold a token.
func checkWeb(t *table, key, text string) {
	if text != "" && !isWeb(text) {
		t.problem(key, "", "is not a plain web address", key+` = "https://push.example/larder"`)
	}
}

// readChat takes a chat by its number; people often copy it without quotes.
func readChat(t *table) string {
	if number, ok := t.values["chat"].(int64); ok {
		t.get("chat")
		return strconv.FormatInt(number, 10)
	}
	chat := t.need("chat", "-1001234567890")
	if _, err := strconv.ParseInt(chat, 10, 64); chat != "" && err != nil {
		t.problem("chat", chat, "is not the number of a chat", `chat = "-1001234567890"`)
	}
	return chat
}
