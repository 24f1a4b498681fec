package config

import "regexp"

// readService reads the keys of services that take more than one address.
func readService(t *table, c *Channel) {
	switch c.Kind {
	case "matrix":
		c.Text["server"] = t.need("server", "https://matrix.larder.example")
		c.secret(t, "token")
		c.Text["room"] = t.shaped("room", room, "the id of a room", "!abcdef:larder.example")
	case "ntfy":
		c.secret(t, "topic") // whoever knows it can read along
		c.keep("token", t.secret("token", false))
		c.Text["server"] = t.text("server")
	case "twilio":
		c.Text["account"] = t.shaped("account", account, "the SID of an account", "AC0123456789abcdef0123456789abcdef")
		c.secret(t, "token")
		c.Text["from"] = t.need("from", "+441632960001")
		c.Text["to"] = t.shaped("to", telephone, "a telephone number with its country", "+441632960123")
		return
	case "plivo":
		c.Text["account"] = t.shaped("account", plivoAccount, "the auth ID of an account", "MAABCDEFGHIJKLMNOPQR")
		c.secret(t, "token")
		c.Text["from"] = t.need("from", "+441632960001")
		c.Text["to"] = t.shaped("to", telephone, "a telephone number with its country", "+441632960123")
		return
	case "textmagic":
		c.Text["user"] = t.need("user", "oddwick.larder")
		c.secret(t, "token")
		c.Text["from"] = t.text("from")
		c.Text["to"] = t.shaped("to", telephone, "a telephone number with its country", "+441632960123")
		return
	}
	checkWeb(t, "server", c.Text["server"])
}

// A room's id (Matrix specification, Room IDs), a telephone number (E.164), and
// accounts of Twilio's and Plivo's as their consoles show them.
var (
	room      = regexp.MustCompile(`^![^\s/?#]+$`)
	telephone = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`)
	account   = regexp.MustCompile(`^AC[0-9a-f]{32}$`)
	// the main account, or one below it (from memory)
	plivoAccount = regexp.MustCompile(`^[MS]A[0-9A-Z]{18}$`)
)

// shaped is text for a key that has to be there and to look like example.
func (t *table) shaped(key string, shape *regexp.Regexp, what, example string) string {
	text := t.need(key, example)
	if text != "" && !shape.MatchString(text) {
		t.problem(key, text, "is not "+what, key+` = "`+example+`"`)
	}
	return text
}
