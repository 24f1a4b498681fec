package config

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// stubVault keeps the fuzzer away from the files of this machine.
func stubVault() vault {
	return vault{
		file: func(path string) ([]byte, error) {
			if filepath.Base(path) == "token" {
				return []byte("a-token\n"), nil
			}
			return nil, fs.ErrNotExist
		},
		lookup: func(name string) (string, bool) { return "a-token", name == "FLITCH_TEST_URL" },
	}
}

// FuzzLoad: whatever the text, either a configuration that keeps its word comes
// out, or problems that point into the text, in order, the same each time.
func FuzzLoad(f *testing.F) {
	files, err := filepath.Glob("testdata/configs/*.toml")
	if err != nil || len(files) == 0 {
		f.Fatalf("nothing to start from: %v", err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(Sample("Plover Shed")))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > maxFile {
			return
		}
		config, err := parse("flitch.toml", data, nil, stubVault())
		if err == nil {
			checkPromises(t, config)
			return
		}
		checkProblems(t, data, err)
		if _, again := parse("flitch.toml", data, nil, stubVault()); again == nil || again.Error() != err.Error() {
			t.Errorf("first:\n%v\nthen:\n%v", err, again)
		}
	})
}

func checkProblems(t *testing.T, data []byte, err error) {
	var problems *Problems
	if !errors.As(err, &problems) || len(problems.List) == 0 {
		t.Fatalf("not a list of problems: %v", err)
	}
	lines := bytes.Count(data, []byte("\n")) + 1
	last := 1
	for _, problem := range problems.List {
		if problem.Line < last || problem.Line > lines || problem.What == "" {
			t.Errorf("after line %d of %d: %q", last, lines, problem)
		}
		last = problem.Line
	}
}

func checkPromises(t *testing.T, c *Config) {
	if c.Site.Name == "" || c.Site.Zone == nil || c.Site.Database == "" || len(c.Probes) == 0 {
		t.Errorf("incomplete: %+v", c)
	}
	if !isLoopback(c.Page.Listen) && !c.Page.Anonymous && !c.Page.SignIn {
		t.Errorf("page open at %s by accident", c.Page.Listen)
	}
	if c.Broker.Mode == Embedded && !isLoopback(c.Broker.Listen) && !c.Broker.Anonymous && len(c.Broker.Users) == 0 {
		t.Errorf("broker open at %s by accident", c.Broker.Listen)
	}
	for _, probe := range c.Probes {
		known := slices.ContainsFunc(c.Places, func(p Place) bool { return p.Name == probe.Place })
		if !known || probe.Name == "" || (probe.Topic == "") != probe.ReadOut || probe.Interval <= 0 || !(probe.Uncertainty >= 0) {
			t.Errorf("probe is %+v", probe)
		}
		if _, err := probe.Sensor.Conversion(); probe.Sensor.Converts() && err != nil {
			t.Errorf("sensor of %+v: %v", probe, err)
		}
		units := probe.Unit+probe.UnitAt != ""
		if probe.Measures.IsTemperature() != (units || probe.Sensor.Converts()) && probe.Protocol == "" || units && probe.Sensor.Converts() || probe.Unit != "" && probe.UnitAt != "" {
			t.Errorf("unit of %+v", probe)
		}
	}
}
