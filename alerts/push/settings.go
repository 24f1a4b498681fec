package push

import (
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"strings"
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
	Kind     string // one of Kinds
	Deadline time.Duration

	// email
	Host     string
	Port     int    // zero: 587 for starttls, 465 for tls, 25 for none
	TLS      string // "starttls" (also when empty), "tls" from the first byte, "none" on this machine only
	User     string // empty: no sign-in; textmagic: the name of the account
	Password string
	From, To string // twilio, plivo, textmagic: numbers of telephones

	// http, and the address of an incoming webhook: slack, mattermost, rocketchat,
	// discord, teams, googlechat
	URL     string
	Headers map[string]string

	// phone push services
	Token  string // pushover: application; telegram: bot; bark: device key; pushbullet, matrix, ntfy: access token; twilio, plivo: auth token; textmagic: key
	Target string // pushover: user or group key; telegram: chat number; pushbullet: device nickname; matrix: room; ntfy: topic; twilio, plivo: account
	Server string // bark, telegram, ntfy, twilio, plivo, textmagic: another server than the public one; matrix: the home server; push: a push service of one's own, which may be in the house

	// push
	Browser   *Browser // nil: nobody has asked to be rung yet, and every send says so
	SenderKey []byte   // of NewSenderKey
	Contact   string   // mail address that push services may write to about us, without "mailto:"

	Roots *x509.CertPool // certificates to trust, where the library lets us say; nil: the system's
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
		"slack": slack, "mattermost": mattermost, "rocketchat": rocketChat, "discord": discord,
		"teams": teams, "googlechat": googleChat, "matrix": matrix, "ntfy": ntfy, "twilio": twilio,
		"plivo": plivo, "textmagic": textmagic,
		"push": webPush,
	}
}

// Kinds lists what a channel can be, in the order of the alphabet.
func Kinds() []string { return slices.Sorted(maps.Keys(kinds())) }

// New makes a channel. It does not touch the network: a phone service that is
// away must not keep flitch from starting.
func New(s Settings) (*Channel, error) {
	if s.Name == "" {
		return nil, errors.New("channel: give it a name")
	}
	build, ok := kinds()[s.Kind]
	if !ok {
		return nil, fmt.Errorf("channel %q: unknown kind %q; use one of %s", s.Name, s.Kind, strings.Join(Kinds(), ", "))
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
