package mqtt_test

import (
	"testing"

	"flitch/ingest/mqtt/mqtttest"
)

func BenchmarkTmpD(b *testing.B) {
	m := mqtttest.StartMosquitto(b)
	for b.Loop() {
		b.Log(durableRound(b, m))
	}
}
