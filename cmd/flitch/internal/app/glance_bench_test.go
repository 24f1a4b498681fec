package app

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
)

const (
	glances  = 300                    // of one run, ten a second: more than a phone asks for
	glanceIn = 100 * time.Millisecond // p99, from the request to the whole answer: what a thumb takes for at once (proposal)
)

// BenchmarkGlanceUnderLoad is the time of the glance of a cook behind the door, while the
// intake takes a thousand readings a second through a real broker.
func BenchmarkGlanceUnderLoad(b *testing.B) {
	for b.Loop() {
		s := newShop(b)
		s.open()
		s.begin(cooked)
		s.enter(cooked, process.StageCook)
		s.every(minute, 0, 90*minute, func(after time.Duration) {
			s.read("chamber", 80)
			s.read("core", 80-70*math.Exp(-max(0, after.Minutes()-10)/90))
		})
		stop := s.load(b)
		took := make([]time.Duration, glances)
		tick := time.NewTicker(100 * time.Millisecond)
		for i := range took {
			<-tick.C
			s.clock.Step(s.clock.Now().Add(time.Second)) // the forecast is made anew each minute
			took[i] = s.glanceTime(b)
		}
		tick.Stop()
		sent, lasted := stop()
		p50, p99 := ms(mqtttest.Quantile(took, 0.5)), ms(mqtttest.Quantile(took, 0.99))
		fmt.Printf("bench glance_under_load_p50 %.1f ms %.0f %.2f\n", p50, ms(glanceIn), p50/ms(glanceIn))
		fmt.Printf("bench glance_under_load_p99 %.1f ms %.0f %.2f\n", p99, ms(glanceIn), p99/ms(glanceIn))
		fmt.Printf("bench glance_load %.0f readings/s %d %.2f\n", float64(sent)/lasted.Seconds(), loadRate, float64(sent)/lasted.Seconds()/loadRate)
		s.close()
	}
}

// glanceTime asks for the glance behind the door, as the page does.
func (s *shop) glanceTime(b *testing.B) time.Duration {
	b.Helper()
	r := httptest.NewRequest(http.MethodGet, "/batches/PS-02/glance", nil)
	r.Host = "localhost"
	r.Header.Set("Accept-Encoding", "gzip")
	w := httptest.NewRecorder()
	began := time.Now()
	s.app.page.server.Handler.ServeHTTP(w, r)
	took := time.Since(began)
	if w.Code != http.StatusOK || w.Body.Len() < 1000 {
		b.Fatalf("%d %.200s", w.Code, w.Body)
	}
	return took
}
