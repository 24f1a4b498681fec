package app

import (
	"context"
	"crypto/tls"
	"time"

	"flitch/cmd/flitch/internal/config"
)

// rootWarning and givenWarning are how long before the end of a certificate people are
// told: of an own root, which each phone has to be visited for, and of files that
// somebody renews a month before their end, when they forgot. Proposals.
const (
	rootWarning  = 180 * 24 * time.Hour
	givenWarning = 14 * 24 * time.Hour
)

// certificateEnds is when phones cease to trust the page, or sensors the broker, and when
// people are told: of the one that they are told of first.
func (a *App) certificateEnds() (ends, tell time.Time, err error) {
	if a.root != nil {
		ends = a.root.Ends()
		tell = ends.Add(-rootWarning)
	}
	for _, door := range []*tls.Config{a.givenTo(a.cfg.Page.TLS, a.tls), a.givenTo(a.cfg.Broker.TLS, a.brokerTLS)} {
		if door == nil {
			continue
		}
		given, err := door.GetCertificate(nil) // looks at the files again
		if err != nil {
			return ends, tell, err
		}
		if told := given.Leaf.NotAfter.Add(-givenWarning); tell.IsZero() || told.Before(tell) {
			ends, tell = given.Leaf.NotAfter, told
		}
	}
	return ends, tell, nil
}

// givenTo is what a door is served with, if that is from files; else nil.
func (a *App) givenTo(mode config.TLSMode, conf *tls.Config) *tls.Config {
	if mode != config.Given {
		return nil
	}
	return conf
}

// watchCertificate looks at the certificates at the start and then once an hour, until ctx
// ends, and reports when its end has come near, or is far again. Somebody may renew it
// any day, and then nobody should hear of it.
func (a *App) watchCertificate(ctx context.Context) error {
	var told time.Time // the end that was reported, zero: none is near
	for known := false; ; {
		ends, tell, err := a.certificateEnds()
		near := ends
		if err == nil && a.clock.Now().Before(tell) {
			near = time.Time{}
		}
		if err == nil && (!known || !near.Equal(told)) {
			err = a.engine.ReportEnd(ctx, near)
			told, known = near, err == nil
		}
		if err != nil && ctx.Err() == nil {
			a.log.Error("the end of a certificate is not told", "err", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(testLook):
		}
	}
}
