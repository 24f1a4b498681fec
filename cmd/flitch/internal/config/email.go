package config

import (
	"fmt"
	"math"
	"net/mail"
	"strconv"
	"strings"
)

// readEmail reads a mail server and one receiver. One channel has one receiver,
// so that each is settled by itself.
func readEmail(t *table, c *Channel) {
	c.Text["host"] = readMailHost(t)
	c.Text["security"] = t.choice("security", "starttls", "starttls", "tls", "none")
	c.Text["port"] = readMailPort(t, usualMailPort(c.Text["security"]))
	c.Text["user"] = t.text("user")
	c.Text["from"] = readMailbox(t, "from", "flitch@larder.example")
	c.Text["to"] = readMailbox(t, "to", "tv@larder.example")

	password := t.secret("password", c.Text["user"] != "")
	c.keep("password", password)
	if password.IsSet() && !t.has("user") {
		t.missing("user", `user = "flitch@larder.example"`)
	}
	if c.Text["security"] == "none" && (!isLoopbackHost(c.Text["host"]) || t.has("user")) {
		t.problem("security", "none", "is for a mail server on this machine, without user", `security = "starttls"`)
	}
}

func readMailPort(t *table, usual float64) string {
	port := t.number("port", usual, 1, 65535)
	if port != math.Trunc(port) {
		t.problem("port", fmt.Sprint(port), "is not a whole number", fmt.Sprintf("port = %v", usual))
	}
	return strconv.Itoa(int(port))
}

// usualMailPort: RFC 6409 for submission, RFC 8314 for TLS from the first byte,
// RFC 5321 for plain.
func usualMailPort(security string) float64 {
	switch security {
	case "tls":
		return 465
	case "none":
		return 25
	}
	return 587
}

func readMailHost(t *table) string {
	host := t.need("host", "mail.larder.example")
	if strings.ContainsAny(host, ":/ ") && !isLoopbackHost(host) {
		t.problem("host", host, "is more than the name of a machine", `host = "mail.larder.example", and port = 587`)
	}
	return host
}

func readMailbox(t *table, key, example string) string {
	text := t.need(key, example)
	if text == "" {
		return ""
	}
	address, err := mail.ParseAddress(text)
	if err != nil {
		t.problem(key, text, "is not one mail address", key+` = "`+example+`"`)
		return ""
	}
	return address.String()
}
