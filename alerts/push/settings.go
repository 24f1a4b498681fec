package push

import (
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"time"
)

// DefaultDeadline is how long one send may take when the settings do not say.
// Proposal.
const DefaultDeadline = 20 * time.Second

// shortestToken is the shortest header value or piece of an address that is
// taken for a secret; shorter ones are words and settings, such as a priority.
const shortestToken = 8

// Settings describe one channel. Which fields are needed depends on Kind; New
// names the missing ones as they are named in the configuration.
type Settings struct {
	Name     string
	Kind     string // "email", "http", "pushover", "telegram", "bark", "pushbullet"
	Deadline time.Duration

	// email
	Host     string
	Port     int    // zero: 587 for starttls, 465 for tls, 25 for none
	TLS      string // "starttls" (also when empty), "tls" from the first byte, "none" on this machine only
	User     string // empty: no sign-in
	Password string
	From, To string

	// http
	URL     string
	Headers map[string]string

	// phone push services
	Token  string // pushover: application; telegram: bot; bark: device key; pushbullet: access token
	Target string // pushover: user or group key; telegram: chat number; pushbullet: device nickname
	Server string // bark, telegram: another server than the public one

	Roots *x509.CertPool // certificates to trust for email and http; nil: the system's
}

// String names the channel without its secrets.
func (s Settings) String() string { return fmt.Sprintf("channel %q (%s)", s.Name, s.Kind) }

// LogValue keeps secrets out of logs.
func (s Settings) LogValue() slog.Value { return slog.StringValue(s.String()) }

// GoString keeps secrets out of %#v.
func (s Settings) GoString() string { return s.String() }

// kinds are the known kinds and what makes a channel of each.
func kinds() map[string]func(*Channel, Settings) error {
	return map[string]func(*Channel, Settings) error{
		"email": email, "http": hook, "pushover": pushoverChannel,
		"telegram": telegramChannel, "bark": barkChannel, "pushbullet": pushbulletChannel,
	}
}

// New makes a channel. It does not touch the network: a phone service that is
// away must not keep flitch from starting.
func New(s Settings) (*Channel, error) {
	if s.Name == "" {
		return nil, errors.New("channel: give it a name")
	}
	build, ok := kinds()[s.Kind]
	if !ok {
		return nil, fmt.Errorf("channel %q: unknown kind %q; use email, http, pushover, telegram, bark or pushbullet", s.Name, s.Kind)
	}
	if s.Deadline <= 0 {
		s.Deadline = DefaultDeadline
	}
	c := &Channel{name: s.Name, deadline: s.Deadline, secrets: []string{s.Password, s.Token}}
	for _, value := range s.Headers {
		if len(value) >= shortestToken {
			c.secrets = append(c.secrets, value)
		}
	}
	if err := build(c, s); err != nil {
		return nil, fmt.Errorf("channel %q: %w", s.Name, err)
	}
	return c, nil
}

// need reports the first of the named settings that is empty.
func need(pairs ...string) error {
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] == "" {
			return fmt.Errorf("%s is missing", pairs[i])
		}
	}
	return nil
}
