package config

import (
	"fmt"
	"net/mail"
	"strings"
)

const exampleContact = `contact = "...", your own mail address`

// readPush reads a channel that rings the browsers that asked for it.
func readPush(t *table, c *Channel) {
	c.Text["contact"] = readContact(t)
	c.Text["server"] = t.text("server")
	checkWeb(t, "server", c.Text["server"])
}

// readContact reads the address that push services may write to about us. It is
// sent to them with each message; made-up ones are refused there, the message
// with them.
func readContact(t *table) string {
	contact := t.text("contact")
	switch {
	case contact == "" && t.has("contact"):
		t.problem("contact", "", "is empty", exampleContact)
		return ""
	case contact == "":
		t.missing("contact", exampleContact)
		return ""
	}
	address, err := mail.ParseAddress(contact)
	if err != nil || address.Name != "" || address.Address != contact {
		t.problem("contact", contact, fmt.Sprintf("%q is not one mail address", contact), exampleContact)
		return ""
	}
	if domain := contact[strings.LastIndexByte(contact, '@')+1:]; madeUp(domain) {
		t.problem("contact", contact, fmt.Sprintf("%s is not a domain on the internet, and push services refuse it", domain), exampleContact)
	}
	return contact
}

// madeUp reports whether nobody on the internet has the domain: the names that
// are kept for examples and houses (RFC 2606, RFC 6762, RFC 8375), and in use in
// houses without being kept for them.
func madeUp(domain string) bool {
	labels := strings.Split(strings.ToLower(strings.TrimSuffix(domain, ".")), ".")
	top := labels[len(labels)-1]
	for _, kept := range []string{"example", "test", "invalid", "localhost", "local", "lan", "home", "internal", "arpa"} {
		if top == kept {
			return true
		}
	}
	return len(labels) < 2 || labels[len(labels)-2] == "example" && (top == "com" || top == "net" || top == "org")
}

// checkPush asks for https where a channel of kind push is: browsers give a page
// that came by plain http no way to be rung, also in the house.
func checkPush(tables []*table, page Page) {
	for _, t := range tables {
		if t.values["kind"] == "push" && page.TLS == NoTLS && !strings.HasPrefix(page.Link, "https://") {
			t.problem("kind", "push", "push needs the page by https, and it is served by plain http",
				`tls = "own" under [page], or link = "https://..." there if another server does it; the other kinds work without`)
		}
	}
}
