package push

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"net"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"flitch/alerts"
)

// mailbox is the server's side: it keeps what it is sent, or answers with refuse.
type mailbox struct {
	mu      sync.Mutex
	letters []string
	users   []string
	refuse  *smtp.SMTPError
}

func (b *mailbox) NewSession(*smtp.Conn) (smtp.Session, error) { return &mailSession{box: b}, nil }

func (b *mailbox) got() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.letters...)
}

type mailSession struct{ box *mailbox }

func (*mailSession) Reset()                               {}
func (*mailSession) Logout() error                        { return nil }
func (*mailSession) Mail(string, *smtp.MailOptions) error { return nil }
func (*mailSession) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (*mailSession) AuthMechanisms() []string             { return []string{sasl.Plain} }
func (s *mailSession) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if password != "open sesame" {
			return smtp.ErrAuthFailed
		}
		s.box.mu.Lock()
		defer s.box.mu.Unlock()
		s.box.users = append(s.box.users, user)
		return nil
	}), nil
}

func (s *mailSession) Data(r io.Reader) error {
	text, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.box.mu.Lock()
	defer s.box.mu.Unlock()
	if s.box.refuse != nil {
		return s.box.refuse
	}
	s.box.letters = append(s.box.letters, string(text))
	return nil
}

// certificate borrows the test certificate of httptest, which is made out to
// 127.0.0.1, and the pool that trusts it.
func certificate(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	server := httptest.NewTLSServer(nil)
	defer server.Close()
	pool := x509.NewCertPool()
	pool.AddCert(server.Certificate())
	return &tls.Config{Certificates: server.TLS.Certificates}, pool
}

// mailServer serves box on a loopback port; how is as in Settings.TLS.
func mailServer(t *testing.T, box *mailbox, how string) Settings {
	t.Helper()
	server := smtp.NewServer(box)
	server.Domain, server.ReadTimeout, server.WriteTimeout = "mail.plover-shed.example", 10*time.Second, 10*time.Second
	certs, pool := certificate(t)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := listener.Addr().(*net.TCPAddr).Port
	if how == "tls" {
		listener = tls.NewListener(listener, certs)
	}
	if how == "starttls" {
		server.TLSConfig = certs
	}
	done := make(chan struct{})
	go func() { defer close(done); _ = server.Serve(listener) }()
	t.Cleanup(func() { _ = server.Close(); <-done })
	return Settings{
		Name: "mail", Kind: "email", Host: "127.0.0.1", Port: port, TLS: how, Roots: pool, Deadline: 10 * time.Second,
		From: "flitch@plover-shed.example", To: "tv@oddwick-lane.example",
	}
}

func fire() alerts.Message {
	return alerts.Message{
		ID: 42, Alarm: 17, Kind: alerts.Raised, Entry: "H3", Level: alerts.Ring, Channel: "mail",
		Subject: "RING Fire going out: batch OL-31-09", Body: "Chamber 21.0 °C below its set point <&>.\nDo first: Relight.",
	}
}

func channel(t *testing.T, s Settings) *Channel {
	t.Helper()
	c, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// failure sends and returns the refusal, or fails the test.
func failure(t *testing.T, c *Channel) *alerts.SendError {
	t.Helper()
	_, err := c.Send(context.Background(), fire())
	refusal, ok := errors.AsType[*alerts.SendError](err)
	if !ok {
		t.Fatalf("err = %v, want an *alerts.SendError", err)
	}
	return refusal
}

func TestEmailArrives(t *testing.T) {
	for _, how := range []string{"none", "starttls", "tls"} {
		t.Run(how, func(t *testing.T) {
			box := &mailbox{}
			s := mailServer(t, box, how)
			if how != "none" {
				s.User, s.Password = "shed", "open sesame"
			}
			receipt, err := channel(t, s).Send(context.Background(), fire())
			if err != nil {
				t.Fatal(err)
			}
			if receipt == "" {
				t.Error("no receipt")
			}
			letters := box.got()
			if len(letters) != 1 {
				t.Fatalf("%d letters, want 1", len(letters))
			}
			for _, want := range []string{"Subject: RING Fire going out: batch OL-31-09", "X-Flitch-Alarm: 17", "Auto-Submitted: auto-generated"} {
				if !strings.Contains(letters[0], want) {
					t.Errorf("letter lacks %q:\n%s", want, letters[0])
				}
			}
			if how != "none" && (len(box.users) != 1 || box.users[0] != "shed") {
				t.Errorf("signed in: %q, want shed", box.users)
			}
		})
	}
}

func TestEmailRefusals(t *testing.T) {
	for _, c := range []struct {
		name   string
		refuse *smtp.SMTPError
		retry  bool
	}{
		{"mailbox full: try later", &smtp.SMTPError{Code: 452, EnhancedCode: smtp.EnhancedCode{4, 2, 2}, Message: "full"}, true},
		{"no such person: final", &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "unknown"}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			refusal := failure(t, channel(t, mailServer(t, &mailbox{refuse: c.refuse}, "none")))
			if refusal.Retry != c.retry || refusal.Unknown || !strings.Contains(refusal.Text, c.refuse.Message) {
				t.Errorf("refusal = %+v, want retry %v and the server's words", refusal, c.retry)
			}
		})
	}
}

func TestEmailWrongPasswordIsFinalAndKeptSecret(t *testing.T) {
	s := mailServer(t, &mailbox{}, "starttls")
	s.User, s.Password = "shed", "not the password"
	refusal := failure(t, channel(t, s))
	if refusal.Retry || strings.Contains(refusal.Text, s.Password) {
		t.Errorf("refusal = %+v, want final and no password in it", refusal)
	}
}

func TestEmailNeedsTheEncryptionItWasToldToUse(t *testing.T) {
	box := &mailbox{}
	s := mailServer(t, box, "none") // offers no STARTTLS
	s.TLS = "starttls"
	if refusal := failure(t, channel(t, s)); !strings.Contains(refusal.Text, "STARTTLS") {
		t.Errorf("refusal = %+v", refusal)
	}
	if len(box.got()) != 0 {
		t.Error("the letter went out in the clear")
	}
}

func TestEmailDistrustsAStranger(t *testing.T) {
	box := &mailbox{}
	s := mailServer(t, box, "tls")
	s.Roots = x509.NewCertPool()
	if refusal := failure(t, channel(t, s)); !refusal.Retry {
		t.Errorf("refusal = %+v, want a retry: our clock may be what is wrong", refusal)
	}
	if len(box.got()) != 0 {
		t.Error("the letter went to a stranger")
	}
}

// mute accepts connections, says what lines says and then nothing.
func mute(t *testing.T, lines ...string) int {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var serving sync.WaitGroup
	serving.Go(func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			serving.Go(func() { answer(conn, lines) })
		}
	})
	t.Cleanup(func() { _ = listener.Close(); serving.Wait() })
	return listener.Addr().(*net.TCPAddr).Port
}

// answer gives one line at the start and one for each command, and after DATA
// waits for the dot.
func answer(conn net.Conn, lines []string) {
	defer conn.Close()
	commands := bufio.NewScanner(conn)
	for i, line := range lines {
		if i > 0 && !commands.Scan() {
			return
		}
		if _, err := io.WriteString(conn, line+"\r\n"); err != nil {
			return
		}
		if strings.HasPrefix(line, "354") {
			for commands.Scan() && commands.Text() != "." {
			}
			_, _ = io.WriteString(conn, "250 taken\r\n")
		}
	}
	for commands.Scan() {
	}
}

func TestEmailDeadlineHolds(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []string
	}{
		{"says nothing at all", nil},
		{"stops after the greeting", []string{"220 mail"}},
		{"stops after RCPT", []string{"220 mail", "250 mail", "250 ok", "250 ok"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Settings{
				Name: "mail", Kind: "email", Host: "127.0.0.1", Port: mute(t, c.lines...), TLS: "none", Deadline: 300 * time.Millisecond,
				From: "flitch@plover-shed.example", To: "tv@oddwick-lane.example",
			}
			began := time.Now()
			refusal := failure(t, channel(t, s))
			// Which of two deadlines ends it is chance: that of the send, or that of the
			// connection, which was set a moment earlier. Both say so and are retried.
			late := strings.Contains(refusal.Text, "no answer within 270ms") || strings.Contains(refusal.Text, "i/o timeout")
			if !refusal.Retry || !late || refusal.Unknown != (len(c.lines) == 4) { // only the last was being handed over
				t.Errorf("refusal = %+v", refusal)
			}
			if took := time.Since(began); took > 5*time.Second {
				t.Errorf("took %s", took)
			}
		})
	}
}

func TestEmailDeliveredThoughTheServerNeverAnswersQuit(t *testing.T) {
	lines := []string{"220 mail", "250 mail", "250 ok", "250 ok", "354 go on"}
	s := Settings{
		Name: "mail", Kind: "email", Host: "127.0.0.1", Port: mute(t, lines...), TLS: "none", Deadline: 500 * time.Millisecond,
		From: "flitch@plover-shed.example", To: "tv@oddwick-lane.example",
	}
	if _, err := channel(t, s).Send(context.Background(), fire()); err != nil {
		t.Fatal(err)
	}
}
