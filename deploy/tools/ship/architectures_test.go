package ship

import (
	"compress/gzip"
	"debug/elf"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestTheBinariesNeedNothing: static, and they say what they are.
func TestTheBinariesNeedNothing(t *testing.T) {
	kinds := map[string]elf.Machine{"amd64": elf.EM_X86_64, "arm64": elf.EM_AARCH64, "armv7": elf.EM_ARM}
	for arch := range architectures {
		file, err := elf.Open(filepath.Join(built, arch, "flitch"))
		if err != nil {
			t.Fatal(err)
		}
		if file.Machine != kinds[arch] {
			t.Errorf("%s is made for %s", arch, file.Machine)
		}
		for _, p := range file.Progs {
			if p.Type == elf.PT_INTERP || p.Type == elf.PT_DYNAMIC {
				t.Errorf("%s is not static: it has %s", arch, p.Type)
			}
		}
		file.Close()
		if said := output(t, command(arch, "version")); !strings.HasPrefix(said, "flitch "+version+" go1.") {
			t.Errorf("%s: version says %q", arch, said)
		}
	}
}

// life is one installation from init to stop, on a database of before that it is given:
// what came out of it that has to be the same on every machine.
func life(t *testing.T, arch string) (papers map[string]string) {
	larder := filepath.Join(t.TempDir(), "larder")
	config := filepath.Join(larder, "flitch.toml")
	output(t, command(arch, "init", larder))
	elsewhere(t, config)
	unpack(t, filepath.Join(source, "testdata/databases/0006.db.gz"), filepath.Join(larder, "flitch.db"))
	if said := output(t, command(arch, "check", "--config", config)); !strings.Contains(said, "no problems") {
		t.Errorf("check says %q", said)
	}
	before := readings(t, arch, config)
	d := start(t, command(arch, "run", "--config", config))
	d.publish()
	output(t, command(arch, "health", "--alive", "--config", config)) // the database was signed by a key that is not here
	papers = map[string]string{}
	for _, format := range []string{"csv", "json", "html"} {
		paper := output(t, command(arch, "record", "OL-31-27", "--config", config, "--format", format, "--out", "-"))
		papers[format] = outsideTheHash.ReplaceAllString(paper, `"made": ""`)
	}
	d.stop()
	if after := readings(t, arch, config); after != before+1 {
		t.Errorf("%d readings became %d, want one more", before, after)
	}
	papers["verify"] = clocksOf(output(t, command(arch, "verify", filepath.Join(larder, "flitch.db"))))
	return papers
}

// outsideTheHash is what differs between two copies of a record: when each was made, and to the
// millisecond when the daemon here, whose house goes on from the last moment of the database,
// found that its probes are silent; so also the hash over all of it.
var outsideTheHash = regexp.MustCompile(`<p>Made [^<]*</p>|"made_at": "[^"]*"|"2031-07-23T06:30:\d\d\.\d+Z"|\n    "sha256": "[^"]*"`)

// readings counts by a backup, which reads all of the database.
func readings(t *testing.T, arch, config string) (n int) {
	t.Helper()
	said := output(t, command(arch, "backup", "--config", config, "--to", t.TempDir()))
	_, counts, found := strings.Cut(said, "whole: ")
	if _, err := fmt.Sscanf(counts, "%d reading", &n); !found || err != nil {
		t.Fatalf("backup says %q", said)
	}
	return n
}

// clocksOf are the lines about clocks: the others name keys and journals, which differ.
func clocksOf(report string) string {
	lines := slices.DeleteFunc(strings.Split(report, "\n"), func(l string) bool {
		return !strings.Contains(l, "clocks: ") && !strings.Contains(l, "readings, the longest gap")
	})
	return strings.Join(lines, "\n")
}

// TestEachMachineSaysTheSame: the same database and the same nights, on all three.
func TestEachMachineSaysTheSame(t *testing.T) {
	want := map[string]map[string]string{}
	for _, arch := range []string{own, "amd64", "arm64", "armv7"} {
		if want[arch] != nil {
			continue
		}
		want[arch] = life(t, arch)
		for _, night := range []string{"01-nutmeg-tuesday", "07-slow-middle", "13-forgotten-rest"} {
			want[arch][night] = output(t, command(arch, "rehearse", filepath.Join(source, "testdata/scenarios", night+".txt")))
		}
		want[arch]["assess"] = output(t, command(arch, "assess", "--plan", "belly-dry-cured", "--piece", "A:2268g:38mm", "--json",
			"--readings", filepath.Join(source, "testdata/records/OL-31-09.csv")))
		for name, text := range want[arch] {
			if len(text) < 80 { // one line and more
				t.Errorf("%s: %s is %q", arch, name, text)
			}
			if text != want[own][name] {
				t.Errorf("%s: %s is not as on this machine:\n%s", arch, name, firstOther(want[own][name], text))
			}
		}
	}
}

func firstOther(want, got string) string {
	other := strings.Split(got, "\n")
	for i, line := range strings.Split(want, "\n") {
		if i >= len(other) || line != other[i] {
			return fmt.Sprintf("line %d: %q", i+1, other[min(i, len(other)-1)]) + fmt.Sprintf("\nwant    %q", line)
		}
	}
	return "it goes on"
}

func unpack(t *testing.T, packed, to string) {
	t.Helper()
	file, err := os.Open(packed)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	in, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	write(t, to, string(text))
}
