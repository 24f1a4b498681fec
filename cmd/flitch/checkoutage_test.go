package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"flitch/ingest/mqtt/mqtttest"
)

// The whole command against a real broker: as it comes it loses, with a long queue it
// keeps.
func TestCheckTriesTheOutsideBroker(t *testing.T) {
	for name, c := range map[string]struct {
		lines []string
		exit  int
		want  string
	}{
		"as it comes": {nil, exitProblem, "kept 10"},
		"long queue":  {[]string{"max_queued_messages 0"}, exitFine, "kept all 1440, as much as comes in 12h"},
	} {
		m := mqtttest.StartMosquittoWith(t, append(c.lines, "persistence false")...)
		path := filepath.Join(t.TempDir(), "flitch.toml")
		text := fmt.Sprintf(`[site]
name = "Plover Shed"
zone = "UTC"
[broker]
mode = "external"
url = "mqtt://%s"
[[place]]
name = "alder"
kind = "fridge"
[[probe]]
name = "slow"
place = "alder"
measures = "product"
topic = "shed/slow"
unit = "C"
interval = "30s"
`, m.Addr)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		var out, complaints bytes.Buffer
		code := execute([]string{"check", "--config", path, "--outage", "12h"}, terminal{out: &out, err: &complaints, env: os.Getenv})
		if said := out.String() + complaints.String(); code != c.exit || !strings.Contains(said, c.want) {
			t.Errorf("%s: exit %d\n%s", name, code, said)
		}
	}
}
