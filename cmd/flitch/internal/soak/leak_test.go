package soak

import (
	"context"
	"io"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

// The control: the same run, beside a client that opens a connection to the broker each half
// second and never closes one. The same judge has to find it in the handles and in the
// goroutines.
func TestALeakIsFound(t *testing.T) {
	t.Parallel()
	var y tally
	d := house(t, &y)
	p := paceOf(15 * time.Second)
	leaked := 0
	measured := run(t, d, p, &y, func(ctx context.Context) {
		for ; ctx.Err() == nil; nap(ctx, 500*time.Millisecond) {
			raw, err := mqtttest.Dial(d.broker, "leak-"+time.Now().Format("150405.000"))
			if err != nil {
				t.Error(err)
				return
			}
			defer raw.Close()
			go io.Copy(io.Discard, raw.Conn)
			leaked++
		}
	})
	if leaked < 10 {
		t.Fatalf("%d connections were leaked", leaked)
	}
	for _, m := range measures {
		if m.name != "handles" && m.name != "goroutines" {
			continue
		}
		j, err := judge(measured[m.name], p.lasts, m.allow.times(3))
		if err != nil || j.flat() {
			t.Errorf("%d leaked connections are not found in the %s: %v, %v", leaked, m.name, j, err)
		}
		t.Logf("%d leaked connections, %s: %v", leaked, m.name, j)
	}
}
