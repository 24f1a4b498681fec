package config

import (
	"fmt"
	"net/url"
	"strings"
	"time"
	_ "time/tzdata" // a board may come without zone files
	"unicode/utf8"
)

func readSite(t *table) Site {
	defer t.finish()
	return Site{
		Name:     t.need("name", "My larder"),
		Zone:     readZone(t),
		Units:    t.choice("units", "C", "C", "F"),
		Database: t.doc.resolve(t.or("database", "flitch.db")),

		Currency: readCurrency(t),

		ReviewerDiffers: t.yes("reviewer_differs"),
	}
}

// maxCurrency is how long the name of a currency may be, characters: a column has to hold it (proposal).
const maxCurrency = 8

func readCurrency(t *table) string {
	name := strings.TrimSpace(t.text("currency"))
	if utf8.RuneCountInString(name) > maxCurrency {
		t.problem("currency", name, fmt.Sprintf("has more than %d characters", maxCurrency), `currency = "EUR"`)
	}
	return name
}

// reviewed says who may review a record where the file does not: with two or more persons
// somebody else than who made it (9 CFR 417.5(c) asks for that where it can be done).
func reviewed(t *table, site *Site, persons []Person) {
	if !t.has("reviewer_differs") {
		site.ReviewerDiffers = len(persons) > 1
	}
}

// readZone refuses "Local": the zone is part of the record and may not change
// with the machine.
func readZone(t *table) *time.Location {
	name := t.need("zone", exampleZone)
	if name == "" {
		return time.UTC
	}
	return t.zone("zone", name)
}

const exampleZone = "Europe/Lisbon"

// zone is the time zone of that name, UTC when there is none.
func (t *table) zone(key, name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		t.problem(key, name, fmt.Sprintf("%q is not a zone of the IANA list", name), fmt.Sprintf(`%s = %q, or "UTC"`, key, exampleZone))
		return time.UTC
	}
	return zone
}

func readPage(t *table) Page {
	defer t.finish()
	page := Page{Listen: t.listen("127.0.0.1:8411"), Anonymous: t.yes("anonymous")}
	readTLS(t, &page)
	page.Link = readLink(t, page.address())
	doubtLink(t, page)
	checkLink(t, page)
	page.SignIn = !page.Anonymous && (!isLoopback(page.Listen) || calledFromOutside(page.Link))
	return page
}

// calledFromOutside reports whether people call the page by a name that is not this
// machine's own: it then stands behind another server.
func calledFromOutside(link string) bool {
	address, err := url.Parse(link)
	return err == nil && address.Hostname() != "" && !isLoopbackHost(address.Hostname())
}

// checkSignIn asks for somebody who can sign in, where that is needed: the page is then
// reached from other machines, itself or through another server.
func checkSignIn(t *table, page Page, persons []Person) {
	if page.SignIn && len(persons) == 0 {
		t.problem("listen", page.Listen, "the page can be reached from other machines, and there is nobody who could sign in",
			`[[person]] with name, initials and channels, then flitch password INITIALS; or say so: anonymous = true`)
	}
}

// readLink returns the address put into messages. A path is allowed: the page
// may stand behind another server.
func readLink(t *table, fallback string) string {
	link := strings.TrimRight(t.or("link", fallback), "/")
	if !isWeb(link) {
		t.problem("link", "", "is not a plain web address", `link = "http://smokehouse.lan:8411"`)
	} else if strings.ContainsAny(link, "?#") {
		t.problem("link", "", "has more than a host and a path, and it goes into every message", `link = "http://smokehouse.lan:8411"`)
	}
	return link
}

// isWeb reports whether text is an http address without a user in it.
func isWeb(text string) bool {
	address, err := url.Parse(text)
	return err == nil && address.Host != "" && address.User == nil &&
		(address.Scheme == "http" || address.Scheme == "https")
}
