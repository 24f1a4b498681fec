package assess

import (
	"math"
	"testing"
)

func TestAmountsOfEvents(t *testing.T) {
	if _, g, err := weighed("A 4.1lb"); err != nil || math.Abs(g-1859.728717) > 1e-9 {
		t.Errorf("%v g, %v", g, err)
	}
	for _, detail := range []string{"A 1_890g", "A 0x10g", "A Infg", "A NaNg", "A 1890", "A 1890C"} {
		if _, g, err := weighed(detail); err == nil {
			t.Errorf("%q passed for %v g", detail, g)
		}
	}
}
