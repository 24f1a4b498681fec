package config

import (
	"crypto/x509"
	"fmt"
	"net/url"
	"slices"
	"strings"
)

func readBroker(t *table) Broker {
	defer t.finish()
	mode := BrokerMode(t.choice("mode", string(Embedded), string(Embedded), string(External)))
	if mode == External {
		broker := readExternal(t)
		t.foreign("is only for mode = \"embedded\"", "listen", "anonymous", "max_rate", "tls", "names", "certificate", "key")
		return broker
	}
	broker := readEmbedded(t)
	t.foreign("is only for mode = \"external\"", "url", "client_id", "password_file", "password_env", "ca_file", "client_certificate", "client_key", "overhear")
	return broker
}

// readEmbedded lets anyone connect by default only while nobody else can: on
// loopback and without users.
func readEmbedded(t *table) Broker {
	s := readServed(t, "broker")
	broker := Broker{Mode: Embedded, Listen: t.listen(brokerDoor(s.mode)), Users: readUsers(t.tables("user")),
		MaxRate: t.number("max_rate", defaultMaxRate, 1, 1e6), TLS: s.mode, Names: s.names, Certificate: s.certificate, Key: s.key}
	anonymous, said := t.flag("anonymous")
	local, users := isLoopback(broker.Listen), t.has("user")
	broker.Anonymous = anonymous || (!said && local && !users)
	if broker.Anonymous || users {
		return broker
	}
	const hint = `[[broker.user]] with name and password_file, or say so: anonymous = true`
	if said {
		t.problem("anonymous", "false", "nobody could connect: no broker.user either", hint)
	} else {
		t.problem("listen", broker.Listen, broker.Listen+" can be reached from other machines, and any of them could send readings", hint)
	}
	return broker
}

// defaultMaxRate is packets a second of one sensor: proposal, a thousand times what one
// sends.
const defaultMaxRate = 1000

// brokerDoor is where the broker listens when the file does not say: the registered port
// (IANA: 1883 mqtt, 8883 secure-mqtt).
func brokerDoor(mode TLSMode) string {
	if mode == NoTLS {
		return "127.0.0.1:1883"
	}
	return "127.0.0.1:8883"
}

func readUsers(tables []*table) []BrokerUser {
	var seen names
	var users []BrokerUser
	for _, t := range tables {
		user := BrokerUser{Name: t.need("name", "fridge-sensor"), Password: t.secret("password", true),
			MayPublish: readFilters(t, "may_publish"), MaySubscribe: readFilters(t, "may_subscribe")}
		if user.Name != "" {
			seen.once(t, user.Name)
		}
		t.finish()
		users = append(users, user)
	}
	return users
}

func readExternal(t *table) Broker {
	broker := Broker{
		Mode:     External,
		URL:      readBrokerURL(t),
		ClientID: t.or("client_id", "flitch"),
		Password: t.secret("password", false),
		CAFile:   readCA(t),
		Overhear: readOverhear(t),
	}
	if _, several := t.values["user"].([]any); several {
		t.foreign("[[broker.user]] is only for mode = \"embedded\"", "user")
	} else {
		broker.User = t.text("user")
	}
	readClientCertificate(t, &broker)
	if broker.Password.IsSet() && !t.has("user") {
		t.missing("user", `user = "flitch"`)
	}
	return broker
}

// readOverhear is the filter of what is heard beside the probes' topics: all of it, so
// that a new board shows up by itself.
func readOverhear(t *table) string {
	filter := t.or("overhear", "#")
	if filter == "off" {
		return ""
	}
	levels := strings.Split(filter, "/")
	for i, level := range levels {
		if len(level) > 1 && strings.ContainsAny(level, "#+") || level == "#" && i < len(levels)-1 {
			t.problem("overhear", filter, "is not a topic filter: + stands for one level, # for all that follow", `overhear = "larder/#", or "off"`)
			break
		}
	}
	return filter
}

func readBrokerURL(t *table) string {
	const example = `url = "mqtt://broker.lan:1883" or "mqtts://broker.lan:8883"`
	text := t.need("url", "mqtt://broker.lan:1883")
	if text == "" {
		return ""
	}
	address, err := url.Parse(text)
	switch {
	case err != nil || address.Hostname() == "":
		t.problem("url", "", "is not an address", example)
	case !slices.Contains([]string{"mqtt", "mqtts", "tcp", "ssl", "ws", "wss"}, address.Scheme):
		t.problem("url", "", fmt.Sprintf("%q is not a way to a broker", address.Scheme), example)
	case address.User != nil:
		t.problem("url", "", "has a user or password in it", `user = "..." and password_file = "secrets/broker"`)
	case address.Port() == "" && !strings.HasPrefix(address.Scheme, "ws"):
		t.problem("url", text, "has no port", example)
	}
	return text
}

// readClientCertificate reads what we show the other broker.
func readClientCertificate(t *table, broker *Broker) {
	if !t.has("client_certificate") && !t.has("client_key") {
		t.text("client_certificate")
		t.text("client_key")
		return
	}
	readPair(t, "client_certificate", "client_key", "tls/flitch")
	broker.ClientCertificate, broker.ClientKey = t.doc.resolve(t.text("client_certificate")), t.doc.resolve(t.text("client_key"))
	if address, err := url.Parse(broker.URL); err == nil && (address.Scheme == "mqtt" || address.Scheme == "tcp") {
		t.problem("client_certificate", t.text("client_certificate"), "is of no use without TLS", `url = "mqtts://broker.lan:8883"`)
	}
}

// readCA checks that the file holds a certificate, because the broker client
// would only say so at the first connection.
func readCA(t *table) string {
	name := t.text("ca_file")
	if name == "" {
		return ""
	}
	path := t.doc.resolve(name)
	data, err := t.doc.vault.file(path)
	switch {
	case err != nil:
		t.problem("ca_file", name, "cannot be read: "+reason(err), `ca_file = "ca.pem", or no line for the system's list`)
	case string(data) != hidden && !x509.NewCertPool().AppendCertsFromPEM(data):
		t.problem("ca_file", name, "holds no PEM certificate", `ca_file = "ca.pem", or no line for the system's list`)
	}
	return path
}
