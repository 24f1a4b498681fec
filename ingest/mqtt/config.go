package mqtt

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// A Config says how to reach a broker.
type Config struct {
	URL      string // tcp://host:1883 or ssl://host:8883 (also mqtt://, mqtts://)
	ClientID string // fixed for ever: a new one leaves a session behind that queues
	Username string
	Password string
	CAFile   string // PEM; "" is the system's list. TLS only
	// CertFile and KeyFile, PEM, are what we show the broker; both or none. TLS only.
	// They are read anew for each connection: who renews them need not restart us.
	CertFile, KeyFile string
}

// Time-outs. A broker on the same network answers in milliseconds; these are for
// one that has stopped answering. Proposals, but maxReconnect: its default in the
// client library is ten minutes.
const (
	keepAlive      = 30 * time.Second
	pingTimeout    = 10 * time.Second
	connectTimeout = 10 * time.Second
	writeTimeout   = 10 * time.Second
	connectRetry   = time.Second
	maxReconnect   = 30 * time.Second
	goodbye        = time.Second
)

// check finds what is wrong with c in the words of a user.
func (c Config) check() (*url.URL, error) {
	u, err := url.Parse(c.URL)
	if err != nil {
		return nil, errors.New("broker url cannot be read: write tcp://host:1883 or ssl://host:8883") // err would show the url, and a password in it
	}
	switch {
	case u.Host == "" || !plain(u) && !secure(u):
		return nil, fmt.Errorf("broker url %q: write tcp://host:1883 or ssl://host:8883", u.Redacted())
	case u.User != nil:
		return nil, fmt.Errorf("broker url %q: user and password do not belong in the url: set username and password", u.Redacted())
	case c.ClientID == "":
		return nil, fmt.Errorf("broker %s: no client id: choose one and keep it, the broker remembers us by it", u.Host)
	case c.CAFile != "" && !secure(u):
		return nil, fmt.Errorf("broker %s: a CA file is of no use without TLS: write ssl:// in the url", u.Host)
	case c.CertFile != "" && !secure(u):
		return nil, fmt.Errorf("broker %s: a client certificate is of no use without TLS: write ssl:// in the url", u.Host)
	case (c.CertFile == "") != (c.KeyFile == ""):
		return nil, fmt.Errorf("broker %s: a client certificate needs both its file and the file of its key", u.Host)
	}
	return u, nil
}

func plain(u *url.URL) bool  { return u.Scheme == "tcp" || u.Scheme == "mqtt" }
func secure(u *url.URL) bool { return u.Scheme == "ssl" || u.Scheme == "tls" || u.Scheme == "mqtts" }

// tlsConfig returns what to check the broker's certificate with; nil without TLS.
func (c Config) tlsConfig(u *url.URL) (*tls.Config, error) {
	if !secure(u) {
		return nil, nil
	}
	conf := &tls.Config{ServerName: u.Hostname(), MinVersion: tls.VersionTLS12}
	if c.CertFile != "" {
		if _, err := c.clientCertificate(nil); err != nil {
			return nil, fmt.Errorf("broker %s: %w", u.Host, err)
		}
		conf.GetClientCertificate = c.clientCertificate
	}
	if c.CAFile == "" {
		return conf, nil
	}
	pem, err := os.ReadFile(c.CAFile)
	if err != nil {
		return nil, fmt.Errorf("broker %s: read CA file: %w", u.Host, err)
	}
	conf.RootCAs = x509.NewCertPool()
	if !conf.RootCAs.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("broker %s: CA file %s holds no certificate in PEM form", u.Host, c.CAFile)
	}
	return conf, nil
}

func (c Config) clientCertificate(*tls.CertificateRequestInfo) (*tls.Certificate, error) {
	pair, err := tls.LoadX509KeyPair(c.CertFile, c.KeyFile)
	if err != nil {
		return nil, fmt.Errorf("client certificate %s with key %s: %w", c.CertFile, c.KeyFile, err)
	}
	return &pair, nil
}

// address is where to dial, with the registered port of the scheme if none is
// given (IANA: 1883 mqtt, 8883 secure-mqtt).
func address(u *url.URL) string {
	if u.Port() != "" {
		return u.Host
	}
	if secure(u) {
		return net.JoinHostPort(u.Hostname(), "8883")
	}
	return net.JoinHostPort(u.Hostname(), "1883")
}

// options are the settings both clients share.
func (c Config) options(greet greeted) (*paho.ClientOptions, error) {
	u, err := c.check()
	if err != nil {
		return nil, err
	}
	secured, err := c.tlsConfig(u)
	if err != nil {
		return nil, err
	}
	o := paho.NewClientOptions()
	o.AddBroker("tcp://" + address(u)) // only shown: we dial ourselves
	o.SetClientID(c.ClientID).SetUsername(c.Username).SetPassword(c.Password)
	o.SetProtocolVersion(4) // MQTT 3.1.1, no silent falling back to 3.1
	o.SetKeepAlive(keepAlive).SetPingTimeout(pingTimeout)
	o.SetConnectTimeout(connectTimeout).SetWriteTimeout(writeTimeout)
	o.SetConnectRetry(true).SetConnectRetryInterval(connectRetry)
	o.SetAutoReconnect(true).SetMaxReconnectInterval(maxReconnect)
	o.SetCustomOpenConnectionFn(func(*url.URL, paho.ClientOptions) (net.Conn, error) {
		return dial(address(u), secured, greet)
	})
	return o, nil
}
