package push

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	netmail "net/mail"
	"net/textproto"
	"strconv"

	"github.com/wneessen/go-mail"

	"flitch/alerts"
)

// mailNotifier sends one mail over one SMTP connection.
//
// It stands in for the notify library's own mail service, which ignores the
// context (a server that says nothing holds it for ever) and cannot speak TLS
// from the first byte.
type mailNotifier struct {
	settings Settings
	tls      *tls.Config
}

func email(c *Channel, s Settings) error {
	if s.TLS == "" {
		s.TLS = "starttls"
	}
	ports := map[string]int{"starttls": 587, "tls": 465, "none": 25}
	if err := need("host", s.Host, "from", s.From, "to", s.To); err != nil {
		return err
	}
	if _, known := ports[s.TLS]; !known {
		return fmt.Errorf("tls = %q is not known; use starttls, tls or none", s.TLS)
	}
	if s.TLS == "none" && (!loopback(s.Host) || s.User != "") {
		return errors.New("tls = \"none\" is for a mail server on this machine, without sign-in; use starttls or tls")
	}
	for _, a := range []struct{ name, address string }{{"from", s.From}, {"to", s.To}} {
		if _, err := netmail.ParseAddress(a.address); err != nil {
			return fmt.Errorf("%s = %q is not one mail address", a.name, a.address)
		}
	}
	if s.Port == 0 {
		s.Port = ports[s.TLS]
	}
	c.notifier = &mailNotifier{settings: s, tls: &tls.Config{ServerName: s.Host, RootCAs: s.Roots, MinVersion: tls.VersionTLS12}}
	c.classify = mailMayPass
	return nil
}

// loopback reports whether host is this machine.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Send dials, hands the mail over and hangs up. What happens to the connection
// after the server has taken the mail is of no interest: the library still
// resets and says goodbye, and a server that does not answer to that must not
// make a delivered mail look like a failed one. So the connection is cut a little
// before the deadline, while there is time to see that.
func (n *mailNotifier) Send(ctx context.Context, subject, body string) error {
	p := parcelOf(ctx)
	letter, err := n.letter(p.message, subject, body)
	if err != nil {
		return err
	}
	ctx, hangUp := context.WithTimeout(ctx, n.settings.Deadline*9/10)
	defer hangUp()
	err = n.deliver(ctx, p, letter)
	switch {
	case letter.IsDelivered():
		p.receipt = letter.ServerResponse()
		return nil
	case ctx.Err() != nil:
		return fmt.Errorf("mail server: no answer within %s", n.settings.Deadline*9/10)
	}
	return fmt.Errorf("mail server: %w", err)
}

// deliver speaks to the server on a connection that ends with ctx, whatever it
// is waiting for.
func (n *mailNotifier) deliver(ctx context.Context, p *parcel, letter *mail.Msg) error {
	p.asked.Store(true)
	client, err := n.client(func(dialling context.Context, network, address string) (net.Conn, error) {
		conn, err := n.dial(dialling, network, address)
		if err == nil {
			context.AfterFunc(ctx, func() { _ = conn.Close() })
		}
		return conn, err
	})
	if err != nil {
		return err
	}
	session, err := client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return err
	}
	p.wrote.Store(true)
	if err := client.SendWithSMTPClient(session, letter); err != nil {
		p.answered.Store(mailCode(err) > 0)
		return err
	}
	return client.CloseWithSMTPClient(session)
}

func (n *mailNotifier) letter(m alerts.Message, subject, body string) (*mail.Msg, error) {
	letter := mail.NewMsg()
	if err := letter.From(n.settings.From); err != nil {
		return nil, fmt.Errorf("from: %w", err)
	}
	if err := letter.To(n.settings.To); err != nil {
		return nil, fmt.Errorf("to: %w", err)
	}
	letter.Subject(subject)
	letter.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: holiday replies stay away
	letter.SetGenHeader("X-Flitch-Alarm", strconv.FormatInt(m.Alarm, 10))
	if m.Level == alerts.Ring {
		letter.SetImportance(mail.ImportanceUrgent)
	}
	letter.SetBodyString(mail.TypeTextPlain, body)
	return letter, nil
}

// client is made for one mail. Once a connection speaks TLS from its first byte,
// the library sees that for itself and asks for nothing more.
func (n *mailNotifier) client(dial mail.DialContextFunc) (*mail.Client, error) {
	s := n.settings
	policy := map[string]mail.TLSPolicy{"starttls": mail.TLSMandatory, "tls": mail.TLSOpportunistic, "none": mail.NoTLS}[s.TLS]
	options := []mail.Option{
		mail.WithPort(s.Port), mail.WithTLSConfig(n.tls), mail.WithTLSPolicy(policy), mail.WithDialContextFunc(dial),
		mail.WithTimeout(s.Deadline), mail.WithoutNoop(),
	}
	if s.User != "" {
		options = append(options, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(s.User), mail.WithPassword(s.Password))
	}
	return mail.NewClient(s.Host, options...)
}

func (n *mailNotifier) dial(ctx context.Context, network, address string) (net.Conn, error) {
	if n.settings.TLS == "tls" {
		return (&tls.Dialer{Config: n.tls}).DialContext(ctx, network, address)
	}
	return (&net.Dialer{}).DialContext(ctx, network, address)
}

// mailMayPass is false for an answer of 500 and above. 4xx, and everything that
// is not an answer (network, TLS, a clock that makes certificates look wrong),
// may pass (RFC 5321, 4.2.1).
func mailMayPass(err error) bool { return mailCode(err) < 500 }

// mailCode is what the server answered; 0 for what is no answer.
func mailCode(err error) int {
	if refused, ok := errors.AsType[*mail.SendError](err); ok {
		return refused.ErrorCode()
	}
	if answer, ok := errors.AsType[*textproto.Error](err); ok {
		return answer.Code
	}
	return 0
}
