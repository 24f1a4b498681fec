package config

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// house writes the sample of flitch init and returns its path.
func house(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "flitch.toml")
	if err := os.WriteFile(path, []byte(Sample("Plover Shed")), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// addProbe writes what WithProbe says.
func addProbe(path string, p NewProbe) error {
	text, err := WithProbe(path, p)
	if err != nil {
		return err
	}
	return os.WriteFile(ProbeFile(path), text, 0o600)
}

var spare = NewProbe{Name: "core-2", Place: "old-kettle", Measures: "core", Topic: "shed/\"box\"/é", Value: "/a~1b", Time: "/at", TimeFormat: "unix", Unit: "F", Interval: "15s"}

// A probe that was added is the same as one that was typed into the file.
func TestAddedAndTypedAreTheSame(t *testing.T) {
	added, typed := house(t), house(t)
	if err := addProbe(added, spare); err != nil {
		t.Fatal(err)
	}
	lines, err := spare.Lines()
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(typed, os.O_APPEND|os.O_WRONLY, 0)
	if err == nil {
		_, err = f.WriteString("\n" + lines)
	}
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	a, errA := Load(added)
	b, errB := Load(typed)
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	last := a.Probes[len(a.Probes)-1]
	if got, want := last, b.Probes[len(b.Probes)-1]; !reflect.DeepEqual(got, want) {
		t.Errorf("added %+v, typed %+v", got, want)
	}
	if last.Topic != spare.Topic || last.Value != "/a~1b" || last.Measures != process.Core || last.Interval != 15*time.Second || last.Unit != "F" {
		t.Errorf("%+v", last)
	}
	again := spare
	again.Name, again.Value = "core-3", "/c"
	if err := addProbe(added, again); err != nil {
		t.Fatal(err)
	}
	if c, err := Load(added); err != nil || len(c.Probes) != len(a.Probes)+1 {
		t.Errorf("after a second one: %v", err)
	}
}

// A wrong probe changes nothing, and every mistake is named at once, with its file.
func TestAWrongProbeIsNotAdded(t *testing.T) {
	path := house(t)
	for _, c := range []struct {
		probe NewProbe
		want  []string
	}{
		{NewProbe{Name: "core-1", Place: "kettle", Measures: "cores", Topic: "a/#", Value: "t"},
			[]string{"probe.name", "probe.place", "probe.measures", "probe.topic", "probe.value", ".probes.toml:"}},
		{NewProbe{Name: "x", Place: "old-kettle", Measures: "core", Topic: "larder/old-kettle", Value: "/core1", Time: "/time", TimeFormat: "rfc3339", Unit: "C"},
			[]string{"already feeds"}},
		{NewProbe{}, []string{"probe.name", "probe.place", "probe.topic"}},
	} {
		_, err := WithProbe(path, c.probe)
		problems, ok := errors.AsType[*Problems](err)
		if !ok {
			t.Fatalf("%+v: %v", c.probe, err)
		}
		for _, want := range c.want {
			if !strings.Contains(problems.Error(), want) {
				t.Errorf("%+v: no %q in\n%s", c.probe, want, problems)
			}
		}
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "*")); len(left) != 1 {
		t.Errorf("the folder holds %q", left)
	}
}

// What somebody broke by hand in the file of added probes is named there.
func TestTheFileOfAddedProbesIsChecked(t *testing.T) {
	path := house(t)
	if err := os.WriteFile(ProbeFile(path), []byte("[site]\nname = \"x\"\n\n[[probe]]\nname = \"y\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Load(path)
	if err == nil || !strings.Contains(err.Error(), ProbeFile(path)+":1: site") || !strings.Contains(err.Error(), ProbeFile(path)+":4: probe.topic") {
		t.Errorf("%v", err)
	}
	if err := os.WriteFile(ProbeFile(path), []byte("name = x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(path); err == nil || !strings.Contains(err.Error(), ProbeFile(path)+":1: ") {
		t.Errorf("%v", err)
	}
	if _, err := WithProbe(path, spare); err == nil {
		t.Error("a broken file is not written over")
	}
}
