package mqtttest

import (
	"fmt"
	"os"
	"slices"
	"testing"
	"time"
)

// Topics of the load: twelve probes, as many as a small shop has.
const loadTopics = 12

// LoadTopic is the topic of the i-th message of a load.
func LoadTopic(i int) string { return fmt.Sprintf("load/%d", i%loadTopics) }

// LoadTopics are all of them.
func LoadTopics() []string {
	topics := make([]string, loadTopics)
	for i := range topics {
		topics[i] = LoadTopic(i)
	}
	return topics
}

// Load encodes n QoS 1 messages in advance, so that the publisher costs little: a
// small object with a value and a time in milliseconds, all times different and
// rising from first.
func Load(n int, first time.Time) [][]byte {
	packets := make([][]byte, n)
	for i := range packets {
		packets[i] = Packet(LoadTopic(i), loadPayload(i, first), 1, PacketID(i))
	}
	return packets
}

func loadPayload(i int, first time.Time) []byte {
	at := first.UnixMilli() + int64(i/loadTopics)
	return fmt.Appendf(nil, `{"t":%d.%d,"at":%d}`, 40+i%20, i%10, at)
}

// Against reports values beside the limits measured in the same rounds: their
// medians, and the median of the ratios, because a shared machine changes its pace
// from round to round. It also prints one line for people and scripts: "bench",
// name, value, unit, limit, ratio.
func Against(b *testing.B, name, unit string, values, limits []float64) {
	b.Helper()
	ratios := make([]float64, len(values))
	for i := range values {
		ratios[i] = values[i] / limits[i]
	}
	value, limit, ratio := Quantile(values, 0.5), Quantile(limits, 0.5), Quantile(ratios, 0.5)
	b.ReportMetric(value, unit)
	b.ReportMetric(ratio, "ratio")
	fmt.Fprintf(os.Stdout, "bench %s %.4g %s %.4g %.2f\n", name, value, unit, limit, ratio)
}

// Alone reports a value that has no limit to stand beside; its line has dashes
// there.
func Alone(b *testing.B, name string, value float64, unit string) {
	b.Helper()
	b.ReportMetric(value, name+"-"+unit)
	fmt.Fprintf(os.Stdout, "bench %s %.4g %s - -\n", name, value, unit)
}

// Quantile returns the q-quantile of xs, which it sorts; 0.5 is the median.
func Quantile[T int64 | float64 | time.Duration](xs []T, q float64) T {
	slices.Sort(xs)
	return xs[int(q*float64(len(xs)-1))]
}

// Pace sends packets at rate per second and returns when each was sent.
func (r *Raw) Pace(packets [][]byte, rate int) ([]time.Time, error) {
	tick := time.NewTicker(time.Second / time.Duration(rate))
	defer tick.Stop()
	sent := make([]time.Time, len(packets))
	for i, p := range packets {
		<-tick.C
		sent[i] = time.Now()
		if err := r.Send(p); err != nil {
			return nil, err
		}
	}
	return sent, nil
}
