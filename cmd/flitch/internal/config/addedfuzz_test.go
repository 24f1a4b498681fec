package config

import (
	"testing"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

// A probe as somebody says it on the page becomes lines that say the same and nothing else,
// and what stands in the file of added probes is read or refused.
func FuzzAddedProbe(f *testing.F) {
	f.Add("core-2", "old-kettle", "core", "shed/box", "/t2", "C", "15s", []byte("[[probe]]\nname = \"x\"\n"))
	f.Add("a\"\n[site]\nname = \"b\"", "\\", "\x00", "#", "'''", "\"\"\"", "1h\x7f", []byte("[site]\nname = \"another\"\n"))
	f.Add("", "", "", "", "", "", "", []byte{0xff})
	house := []byte(Sample("Plover Shed"))
	f.Fuzz(func(t *testing.T, name, place, measures, topic, value, unit, interval string, file []byte) {
		for _, text := range []string{name, place, measures, topic, value, unit, interval} {
			if !utf8.ValidString(text) {
				return // JSON has none
			}
		}
		said := NewProbe{Name: name, Place: place, Measures: measures, Topic: topic, Value: value, Unit: unit, Interval: interval}
		lines, err := said.Lines()
		if err == nil {
			var again struct{ Probe []NewProbe }
			if err := toml.Unmarshal([]byte(lines), &again); err == nil && (len(again.Probe) != 1 || again.Probe[0] != said) {
				t.Errorf("%+v became\n%s", said, lines)
			}
			_, _ = parse("flitch.toml", house, []byte(lines), stubVault())
		}
		if len(file) < maxFile {
			if c, err := parse("flitch.toml", house, file, stubVault()); err == nil && c.Site.Name != "Plover Shed" {
				t.Errorf("the file of probes changed the site to %q", c.Site.Name)
			}
		}
	})
}
