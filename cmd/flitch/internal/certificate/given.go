package certificate

import (
	"crypto/tls"
	"log/slog"
	"os"
	"sync"
	"time"
)

// lookAgain is how long a certificate is used before its file is looked at again:
// proposal. Who renews certificates does it days before their end.
const lookAgain = time.Minute

// Given is a certificate in files that somebody else renews. A new one is taken
// without a restart; one that cannot be used is told, and the old one stays.
type Given struct {
	certificate, key string // paths
	now              func() time.Time
	log              *slog.Logger

	mu      sync.Mutex
	current *tls.Certificate
	written [2]time.Time // when the files of current, or of the last that failed, were written
	looked  time.Time
}

// NewGiven reads the certificate and its key, both PEM.
func NewGiven(certificate, key string, now func() time.Time, log *slog.Logger) (*Given, error) {
	g := &Given{certificate: certificate, key: key, now: now, log: log, looked: now()}
	g.written = g.times()
	pair, err := tls.LoadX509KeyPair(certificate, key)
	if err != nil {
		return nil, err
	}
	g.current = &pair
	return g, nil
}

// Get returns the certificate of now; it is for tls.Config.GetCertificate.
func (g *Given) Get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	now := g.now()
	if since := now.Sub(g.looked); since >= 0 && since < lookAgain {
		return g.current, nil
	}
	g.looked = now
	written := g.times()
	if written == g.written {
		return g.current, nil
	}
	g.written = written
	pair, err := tls.LoadX509KeyPair(g.certificate, g.key)
	if err != nil {
		g.log.Warn("a new certificate cannot be used, the old one stays", "certificate", g.certificate, "key", g.key, "error", err)
		return g.current, nil
	}
	g.log.Info("a new certificate is in use", "certificate", g.certificate, "until", pair.Leaf.NotAfter)
	g.current = &pair
	return g.current, nil
}

// times are when the files were written; zero for one that is not there.
func (g *Given) times() (written [2]time.Time) {
	for i, path := range []string{g.certificate, g.key} {
		if info, err := os.Stat(path); err == nil {
			written[i] = info.ModTime()
		}
	}
	return written
}
