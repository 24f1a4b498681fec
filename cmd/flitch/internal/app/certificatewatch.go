package app

import (
	"context"
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

// certificateEnds is when phones cease to trust the page, and when people are told.
func (a *App) certificateEnds() (ends, tell time.Time, err error) {
	if a.cfg.Page.TLS == config.Own {
		ends = a.root.Ends()
		return ends, ends.Add(-rootWarning), nil
	}
	given, err := a.tls.GetCertificate(nil) // looks at the files again
	if err != nil {
		return ends, tell, err
	}
	ends = given.Leaf.NotAfter
	return ends, ends.Add(-givenWarning), nil
}

// watchCertificate looks at the certificate at the start and then once an hour, until ctx
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
			a.log.Error("the end of the certificate of the page is not told", "err", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-a.clock.After(testLook):
		}
	}
}
