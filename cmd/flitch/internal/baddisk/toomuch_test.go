package baddisk

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
	"flitch/ingest/mqtt/mqtttest"
)

// More than memory has room for, on a full disk: what was passed over is counted as a gap, and
// mosquitto, which has it still, is asked for it when there is room again.
func TestMoreThanMemoryHoldsBehindMosquitto(t *testing.T) {
	t.Parallel()
	const many = 14000 // of 2 KB: 8 MB are held, 5462 of them as flitch counts, and a connection has some more under way
	disk := small(t, "64m")
	b := newBehind(t, disk, "max_inflight_messages 60000")
	b.start(full, 30*time.Second)
	free := disk.fill()
	b.stopsTaking(disk)
	conn, err := mqtttest.Dial(b.broker, "gateway")
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	first := time.Now().UnixMilli() - many
	packets := make([][]byte, many)
	for n := range packets {
		payload := fmt.Appendf(nil, `{"t":%d,"v":50.0,"note":"%s"}`, first+int64(n), strings.Repeat("x", 2000))
		packets[n] = mqtttest.Packet("shop/core", payload, 1, mqtttest.PacketID(n))
	}
	if err := conn.Flood(packets, 500); err != nil {
		t.Fatalf("mosquitto did not take the readings: %v", err)
	}
	if !b.relay.Until(patience, nil, func() bool { return b.relay.Passed() >= many+len(b.left) }) {
		t.Fatalf("flitch took %d of %d messages", b.relay.Passed(), many)
	}
	free()
	if want := int64(many + len(b.left)); !flitchtest.Within(patience, func() bool { return b.counted() == want }) {
		t.Errorf("%d of %d readings that mosquitto acknowledged are stored:\n%s", b.counted(), want, b.life.Said())
	}
	gap := lineWith(b.journal(), "could not be kept (")
	if gap == "" {
		t.Errorf("the journal does not count what there was no room for:\n%s", b.journal())
	}
	b.alive()
	b.life.end()
	b.sound()
	t.Logf("1 fault: full disk and %d messages of 2 KB behind mosquitto; all stored; %s", many, gap)
}
