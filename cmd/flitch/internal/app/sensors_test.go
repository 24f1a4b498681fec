package app

import (
	"context"
	"log/slog"
	"testing"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/mqtt/mqtttest"
)

// Sensors by TLS: mosquitto_pub trusts the root that lies beside the database, signs in,
// and speaks for its own probe only. The page is by plain http all the same.
func TestSensorsByTLSWithOurOwnRoot(t *testing.T) {
	s := newShop(t)
	s.cfg.Broker = config.Broker{Mode: config.Embedded, Listen: "127.0.0.1:0", TLS: config.Own, Names: []string{"smokehouse.lan"},
		Anonymous: false, Users: []config.BrokerUser{
			{Name: "fridge", Password: config.NewSecret("0123456789abcdef"), MayPublish: []string{"shop/spare"}},
		}}
	a, err := New(s.cfg, Options{Clock: s.clock, Log: slog.New(slog.DiscardHandler), Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	trusted := []string{"--cafile", RootFile(s.cfg.Site.Database), "-u", "fridge", "-P", "0123456789abcdef"}
	if err := mqtttest.Pub(t, a.BrokerAddress(), "shop/spare", "3.0", 1, trusted...); err != nil {
		t.Error(err)
	}
	for name, args := range map[string][]string{"another's probe": trusted, "plain text": trusted[2:], "a stranger": trusted[:2]} {
		topic := "shop/spare"
		if name == "another's probe" {
			topic = "shop/slow"
		}
		if err := mqtttest.Pub(t, a.BrokerAddress(), topic, "3.0", 1, args...); err == nil {
			t.Errorf("%s got through", name)
		}
	}
	if n, err := a.db.CountReadings(); err != nil || n != 1 {
		t.Errorf("%d readings, %v", n, err)
	}
	if a.RootFingerprint() == "" || a.Address()[:7] != "http://" {
		t.Errorf("root %q, page %s", a.RootFingerprint(), a.Address())
	}
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
}
