package ship

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/deploy/tools/deb"
)

// older is a version before ours, also for Debian: ~ comes before the end.
const older = "1.2.3~rc"

// pack packs a binary into out.
func pack(t *testing.T, arch, version, out string, config []byte) string {
	t.Helper()
	path, err := deb.Write(deb.Order{
		Deploy: deploy, Binary: filepath.Join(built, arch, "flitch"), Arch: arch, Version: version, Out: out, Config: config,
		Time: time.Date(2031, 5, 2, 12, 0, 0, 0, time.UTC),
	})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// TestThePackagesOfAllMachines: the same files, for the machine that each is for, and the
// same bytes when packed again.
func TestThePackagesOfAllMachines(t *testing.T) {
	want := ""
	for arch, name := range map[string]string{"amd64": "amd64", "arm64": "arm64", "armv7": "armhf"} {
		path := pack(t, arch, version, t.TempDir(), nil)
		if filepath.Base(path) != "flitch_"+version+"_"+name+".deb" {
			t.Errorf("%s is called %s", arch, path)
		}
		if got := strings.TrimSpace(output(t, exec.Command("dpkg-deb", "-f", path, "Architecture"))); got != name {
			t.Errorf("%s is for %s", path, got)
		}
		if arch == own && read(t, pack(t, arch, version, t.TempDir(), nil)) != read(t, path) {
			t.Errorf("%s has other bytes when packed again", name)
		}
		to := t.TempDir()
		output(t, exec.Command("dpkg-deb", "-x", path, to))
		if read(t, to, "usr/bin/flitch") != read(t, built, arch, "flitch") {
			t.Errorf("%s holds another binary", path)
		}
		list := output(t, exec.Command("find", to, "-type", "f", "-printf", "%M %P\n"))
		if want == "" {
			want = list
		}
		if sorted(list) != sorted(want) {
			t.Errorf("%s holds\n%s, another\n%s", name, list, want)
		}
	}
	for _, wrong := range []deb.Order{{Arch: "mips"}, {Arch: "amd64", Deploy: deploy, Binary: "deb_test.go"}, {Arch: "amd64", Deploy: ".", Binary: filepath.Join(built, "amd64/flitch")}} {
		if path, err := deb.Write(wrong); err == nil {
			t.Errorf("%+v was packed as %s", wrong, path)
		}
	}
}

func sorted(list string) string {
	lines := strings.Split(list, "\n")
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// A house is a machine on which the package is installed.
type house struct {
	t    *testing.T
	root string
}

func (h house) does(line string) string { h.t.Helper(); return goes(h.t, h.root, line) }

// has wants files to have this owner, group and mode.
func (h house) has(want string, paths ...string) {
	h.t.Helper()
	for _, path := range paths {
		if got := h.does("stat -c '%U:%G %a' " + path); got != want {
			h.t.Errorf("%s is %s, want %s", path, got, want)
		}
	}
}

// gone wants nothing to be at the paths.
func (h house) gone(paths ...string) {
	h.t.Helper()
	for _, path := range paths {
		if _, err := os.Lstat(filepath.Join(h.root, path)); err == nil {
			h.t.Errorf("%s is still there", path)
		}
	}
}

// install installs a package without anybody to answer a question.
func (h house) install(path string) string {
	h.t.Helper()
	output(h.t, exec.Command("cp", path, filepath.Join(h.root, "tmp/flitch.deb")))
	return h.does("dpkg --force-unsafe-io --force-confdef -i /tmp/flitch.deb </dev/null")
}

// runs is the daemon as the unit starts it, as its user.
func (h house) runs() *exec.Cmd {
	line := read(h.t, deploy, "package/package.conf")
	_, line, _ = strings.Cut(line, "ExecStart=\nExecStart=")
	line, _, _ = strings.Cut(line, "\n")
	return within(h.root, "exec setpriv --reuid flitch --regid flitch --clear-groups --no-new-privs --inh-caps=-all -- "+line)
}

const (
	configured = "/etc/flitch/flitch.toml"
	database   = "/var/lib/flitch/flitch.db"
)

// TestThePackage is its life on a machine: installed, set up, used, upgraded, removed, back,
// purged. The records outlive all of it.
func TestThePackage(t *testing.T) {
	h := house{t, machine(t)}
	h.does("! getent passwd flitch && ! test -e /etc/flitch -o -e /var/lib/flitch")
	out := t.TempDir()
	said := h.install(pack(t, own, older, out, []byte("# older\n"+sample(t, out))))
	if !strings.Contains(said, "systemctl enable --now flitch") {
		t.Errorf("it does not say what is next: %s", said)
	}
	h.has("root:root 755", "/usr/bin/flitch")
	h.has("root:root 644", "/usr/lib/systemd/system/flitch.service", "/usr/lib/systemd/system/flitch.service.d/package.conf", "/usr/share/doc/flitch/copyright", "/usr/share/doc/flitch/changelog.gz", "/usr/share/doc/flitch/examples/mosquitto-flitch.conf")
	h.has("root:flitch 1770", "/etc/flitch")
	h.has("root:flitch 640", configured)
	h.has("flitch:flitch 700", "/var/lib/flitch")
	h.has("flitch:flitch 600", database)
	if got := h.does("zcat /usr/share/doc/flitch/changelog.gz"); got != strings.TrimSpace(read(t, deploy, "CHANGELOG.md")) {
		t.Error("the changelog is another")
	}
	if said := h.does("systemd-analyze verify flitch.service 2>&1"); said != "" {
		t.Errorf("systemd says of the unit: %s", said)
	}
	h.does("flitch check --config " + configured)
	before := h.does("ls -lR --time-style=full-iso /etc/flitch /var/lib/flitch; getent passwd flitch")
	h.does("sh /var/lib/dpkg/info/flitch.postinst configure " + older)
	h.does("sh /var/lib/dpkg/info/flitch.postinst configure")
	if after := h.does("ls -lR --time-style=full-iso /etc/flitch /var/lib/flitch; getent passwd flitch"); after != before {
		t.Errorf("configured again it is not as it was:\n%s\n%s", before, after)
	}

	// An older database stands for that of an older version.
	unpack(t, filepath.Join(source, "testdata/databases/0003.db.gz"), filepath.Join(h.root, database))
	elsewhere(t, filepath.Join(h.root, configured))
	mine := read(t, h.root, configured)
	held := h.counts()
	current := pack(t, own, version, out, nil)
	said = h.install(current)
	if got := read(t, h.root, configured); got != mine {
		t.Errorf("the upgrade changed the configuration: %s", said)
	}
	h.has("root:flitch 640", configured)
	h.has("flitch:flitch 600", database)
	if got := h.counts(); got != held {
		t.Errorf("the upgrade made of %s: %s", held, got)
	}
	d := start(t, h.runs())
	d.publish()
	if kept := h.does("flitch backup --examine /var/lib/flitch/flitch.schema-3.db"); kept != held {
		t.Errorf("what it was before its upgrade: %s, want %s", kept, held)
	}
	d.stop()
	h.papersStay(current)
}

// papersStay removes the package in all ways there are.
func (h house) papersStay(current string) {
	h.t.Helper()
	records := h.does("cd /var/lib/flitch && sha256sum *")
	still := func(what string) {
		h.t.Helper()
		if now := h.does("cd /var/lib/flitch && sha256sum *"); now != records {
			h.t.Errorf("%s: the records were\n%s\nand are\n%s", what, records, now)
		}
		h.has("flitch:flitch 600", database)
	}
	h.does("dpkg --force-unsafe-io -r flitch </dev/null")
	h.gone("/usr/bin/flitch", "/usr/lib/systemd/system/flitch.service", "/usr/lib/systemd/system/flitch.service.d", "/usr/share/doc/flitch")
	h.has("root:flitch 640", configured)
	still("removed")
	h.install(current)
	still("installed again")
	said := h.does("dpkg --force-unsafe-io --purge flitch </dev/null")
	if !strings.Contains(said, "stay in /var/lib/flitch") {
		h.t.Errorf("a purge does not say what stays: %s", said)
	}
	h.gone("/usr/bin/flitch", configured)
	still("purged")
	if left := h.does("dpkg -l flitch 2>/dev/null | grep -c ^.[^n].*flitch || true"); left != "0" {
		h.t.Errorf("dpkg still knows of %s", left)
	}
}

// counts is what the database holds, found without opening it as a daemon would.
func (h house) counts() string {
	h.t.Helper()
	return h.does("flitch backup --examine " + database)
}

// sample is the configuration that the package brings.
func sample(t *testing.T, scratch string) string {
	t.Helper()
	output(t, exec.Command("dpkg-deb", "-x", pack(t, own, version, scratch, nil), filepath.Join(scratch, "unpacked")))
	return read(t, scratch, "unpacked", configured)
}
