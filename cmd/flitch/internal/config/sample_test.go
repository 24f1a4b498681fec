package config

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func TestSampleLoads(t *testing.T) {
	for _, name := range []string{"Oddwick Lane Larder", `"Quoted" \ back`, "Räucherei", "", "two\nlines", "\xff\x00"} {
		path := filepath.Join(t.TempDir(), "flitch.toml")
		if err := os.WriteFile(path, []byte(Sample(name)), 0o644); err != nil {
			t.Fatal(err)
		}
		config, err := Load(path)
		if err != nil {
			t.Fatalf("sample for %q:\n%v", name, err)
		}
		if len(config.Places) != 2 || len(config.Probes) != 3 || len(config.Channels) != 0 {
			t.Errorf("sample for %q has %d places, %d probes, %d channels", name, len(config.Places), len(config.Probes), len(config.Channels))
		}
		if strings.Contains(config.Site.Name, "@") || config.Site.Name == "" {
			t.Errorf("sample for %q is named %q", name, config.Site.Name)
		}
	}
}

// Whoever takes the comment signs away gets a channel that works.
func TestSampleChannelLoads(t *testing.T) {
	before, after, found := strings.Cut(Sample("Plover Shed"), "# [[channel]]")
	if !found {
		t.Fatal("the sample shows no channel")
	}
	text := before + "[[channel]]" + regexp.MustCompile(`(?m)^# `).ReplaceAllString(after, "")
	config, err := parse("flitch.toml", []byte(text), nil, sealedVault())
	if err != nil {
		t.Fatal(err)
	}
	channel, ok := config.ChannelNamed("tv-phone")
	if !ok || channel.Text["url"] == "" || !channel.Secrets["bearer"].IsSet() {
		t.Errorf("channel is %+v", channel)
	}
	if _, ok := config.ChannelNamed("nobody"); ok {
		t.Error("a channel nobody wrote was found")
	}
}

// Whoever takes the comment signs away gets a page with a certificate of its own,
// and may ring phones through it.
func TestSamplePageLoads(t *testing.T) {
	text, rest, _ := strings.Cut(Sample("Plover Shed"), "[broker]") // which has tls and names of its own
	for _, key := range []string{"anonymous", "tls", "names", "plain"} {
		found := regexp.MustCompile(`(?m)^# (`+key+` = )`).FindAllString(text, -1)
		if len(found) != 1 {
			t.Fatalf("the sample shows %s %d times", key, len(found))
		}
		text = strings.Replace(text, found[0], found[0][2:], 1)
	}
	text += "[broker]" + rest + "\n[[channel]]\nname = \"tv-push\"\nkind = \"push\"\ncontact = \"tv@oddwick-lane.uk\"\n"
	config, err := parse("flitch.toml", []byte(text), nil, sealedVault())
	if err != nil {
		t.Fatal(err)
	}
	if config.Page.TLS != Own || config.Page.Link != "https://smokehouse.lan:8411" || config.Page.Plain == "" {
		t.Errorf("page %+v", config.Page)
	}
}

// Whoever takes the comment signs away from what describes a payload gets what it says.
func TestSamplePayloadsLoad(t *testing.T) {
	for _, c := range []struct {
		keys string            // whose comment sign is taken away
		also map[string]string // and what else is changed
		want func(Probe) bool
	}{
		{"id id_at", nil, func(p Probe) bool { return p.ID == "bottle-7" && p.IDAt == "/sensorID" }},
		{"id", map[string]string{"alder/bottle": "alder/+"}, func(p Probe) bool { return p.ReadFrom() == "larder/alder/bottle-7" }},
		{"time_zone", map[string]string{`time_format = "rfc3339"`: `time_format = "local"`}, func(p Probe) bool { return p.Zone.String() == "Europe/Lisbon" }},
		{"each", nil, func(p Probe) bool { return p.List && p.Each == "/readings" }},
		{"backfill", nil, func(p Probe) bool { return p.Backfill == "/stored" }},
		{"unit_at", map[string]string{`unit = "C"`: ""}, func(p Probe) bool { return p.UnitAt == "/TempUnit" && p.Unit == "" }},
		{"scale offset decimal", nil, func(p Probe) bool { return p.Scale == 0.1 && p.Offset == 0 && p.Decimal == "," }},
	} {
		before, probe, _ := strings.Cut(Sample("Plover Shed"), "[[probe]]")
		for key := range strings.FieldsSeq(c.keys) {
			probe = strings.Replace(probe, "\n# "+key+" = ", "\n"+key+" = ", 1)
		}
		for from, to := range c.also {
			probe = strings.Replace(probe, from, to, 1)
		}
		config, err := parse("flitch.toml", []byte(before+"[[probe]]"+probe), nil, sealedVault())
		if err != nil {
			t.Errorf("%s:\n%v", c.keys, err)
		} else if !c.want(config.Probes[0]) {
			t.Errorf("%s: %+v", c.keys, config.Probes[0])
		}
	}
}

// Whoever takes the comment signs away from the probe of a protocol gets one.
func TestSampleProtocolsLoad(t *testing.T) {
	for _, c := range []struct {
		change []string
		want   string
	}{
		{[]string{`metric = "core" `, "# "}, "homie homie/5/fridge/air/temperature  C"},
		{[]string{`protocol = "homie"`, `protocol = "sparkplug"`, "homie/5/fridge/air/temperature", "shop/kettle/probes"}, "sparkplug shop/kettle/probes core C"},
	} {
		before, after, _ := strings.Cut(Sample("Plover Shed"), "# [[probe]]")
		lines, rest, _ := strings.Cut(after, "\n\n")
		lines = strings.NewReplacer(c.change...).Replace(strings.ReplaceAll(lines, "\n# ", "\n"))
		config, err := parse("flitch.toml", []byte(before+"[[probe]]"+lines+"\n\n"+rest), nil, sealedVault())
		if err != nil {
			t.Fatal(err)
		}
		p := config.Probes[len(config.Probes)-1]
		if got := strings.Join([]string{p.Protocol, p.Topic, p.Metric, p.Unit}, " "); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

func TestSampleExplainsEachKey(t *testing.T) {
	explained := map[string]bool{}
	key := regexp.MustCompile(`^(?:# )?([a-z_]+) = \S+.*$`)
	for line := range strings.Lines(Sample("Plover Shed")) {
		if match := key.FindStringSubmatch(strings.TrimSpace(line)); match != nil {
			_, comment, _ := strings.Cut(line, " = ")
			explained[match[1]] = explained[match[1]] || strings.Contains(comment, "# ")
		}
	}
	// These say all in their own name.
	for _, plain := range []string{"user"} {
		delete(explained, plain)
	}
	if len(explained) < 20 {
		t.Fatalf("only %d keys found in the sample", len(explained))
	}
	for name, ok := range explained {
		if !ok {
			t.Errorf("key %s has no comment", name)
		}
	}
}
