package main

import (
	"errors"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/config"
)

// daemonFlags say which daemon a command talks to.
type daemonFlags struct {
	Config string `help:"Configuration of the daemon; ./flitch.toml when nothing is given." placeholder:"FILE"`
	URL    string `name:"url" help:"Address of the daemon, instead of a configuration ($FLITCH_URL)." placeholder:"URL"`
}

// A daemon is the running flitch, as seen through its JSON interface.
type daemon struct {
	base       string         // without a slash at the end
	name       string         // base without a password, for people
	zone       *time.Location // of the site if known, else of this machine
	fahrenheit bool           // the site has its temperatures in °F
	client     *http.Client
	env        func(name string) string
}

// daemon finds the address: what was typed comes before the environment, and
// that before the file that happens to lie here.
func (f daemonFlags) daemon(t terminal) (*daemon, error) {
	address := f.URL
	if address == "" && f.Config == "" {
		address = t.env("FLITCH_URL")
	}
	if address != "" {
		return daemonAt(address, t)
	}
	loaded, err := f.load()
	if err != nil {
		return nil, err
	}
	base, client, err := pageOf(loaded, t.client)
	if err != nil {
		return nil, err
	}
	return &daemon{base: base, name: base, zone: loaded.Site.Zone, fahrenheit: loaded.Site.Units == "F", client: client, env: t.env}, nil
}

// load reads the configuration of the daemon, without its secrets.
func (f daemonFlags) load() (*config.Config, error) {
	path := f.Config
	if path == "" {
		path = "flitch.toml"
	}
	loaded, err := config.LoadPublic(path)
	if _, ok := errors.AsType[*config.Problems](err); ok {
		return nil, problem("flitch check --config "+path, "%s has problems", path)
	}
	if err != nil {
		return nil, unreadable(path, err)
	}
	return loaded, nil
}

func daemonAt(address string, t terminal) (*daemon, error) {
	parsed, err := url.Parse(address)
	if err != nil || parsed.Host == "" || (parsed.Scheme != "http" && parsed.Scheme != "https") {
		return nil, misuse("--url http://127.0.0.1:8411", "%q is not the address of a page", address)
	}
	return &daemon{
		base: strings.TrimRight(address, "/"), name: strings.TrimRight(parsed.Redacted(), "/"),
		zone: time.Local, client: t.client, env: t.env,
	}, nil
}

// reachable is the address to call for one to listen on: "every address of this
// machine" is called at the loopback.
func reachable(listen string) string {
	host, port, err := net.SplitHostPort(listen)
	if err != nil {
		return listen
	}
	if ip := net.ParseIP(host); host == "" || (ip != nil && ip.IsUnspecified()) {
		host = "127.0.0.1"
	}
	return net.JoinHostPort(host, port)
}
