// Package deb packs a binary of flitch, its unit and its papers as a Debian package.
package deb

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/goreleaser/nfpm/v2"
	_ "github.com/goreleaser/nfpm/v2/deb" // the format
	"github.com/goreleaser/nfpm/v2/files"
)

// An Order says what is packed.
type Order struct {
	Deploy  string // the folder deploy of the source
	Binary  string // path
	Arch    string // amd64, arm64 or armv7
	Version string // begins with a digit
	Out     string // folder for the package
	SBOM    string // path of a bill of materials; empty: none is packed
	Config  []byte // text of flitch.toml; nil: the sample
	Time    time.Time
}

// names are ours, nfpm's and Debian's of the machines.
var names = map[string][2]string{"amd64": {"amd64", "amd64"}, "arm64": {"arm64", "arm64"}, "armv7": {"arm7", "armhf"}}

const description = `Watches dry-cured belly in the cure fridge and the smoker
 Takes temperatures by MQTT, keeps the clocks of every batch, rings a phone when
 a person must act, and writes the record of the batch.`

// Write packs it and returns the path of the package. The same order gives the same bytes.
func Write(o Order) (path string, err error) {
	name, ok := names[o.Arch]
	if !ok {
		return "", fmt.Errorf("deb: %q: it is packed for amd64, arm64 and armv7", o.Arch)
	}
	scratch, err := os.MkdirTemp("", "deb")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(scratch)
	contents, err := o.contents(scratch)
	if err != nil {
		return "", fmt.Errorf("deb: %w", err)
	}
	script := func(name string) string { return filepath.Join(o.Deploy, "package", name) }
	info := nfpm.WithDefaults(&nfpm.Info{
		Name: "flitch", Arch: name[0], Platform: "linux", Version: o.Version, VersionSchema: "none", MTime: o.Time,
		Section: "misc", Priority: "optional", Maintainer: "flitch <root@localhost>", Description: description,
		Overridables: nfpm.Overridables{
			Depends: []string{"passwd", "util-linux"}, Recommends: []string{"ca-certificates"}, Suggests: []string{"mosquitto"},
			Contents: contents,
			Scripts:  nfpm.Scripts{PostInstall: script("postinst.sh"), PreRemove: script("prerm.sh"), PostRemove: script("postrm.sh")},
		},
	})
	if err := nfpm.PrepareForPackager(info, "deb"); err != nil {
		return "", fmt.Errorf("deb: %w", err)
	}
	packager, err := nfpm.Get("deb")
	if err != nil {
		return "", err
	}
	path = filepath.Join(o.Out, "flitch_"+o.Version+"_"+name[1]+".deb")
	file, err := os.Create(path)
	if err != nil {
		return "", fmt.Errorf("deb: %w", err)
	}
	return path, errors.Join(packager.Package(info, file), file.Close())
}

// contents lists what goes where. What has to be written first goes into scratch.
func (o Order) contents(scratch string) (files.Contents, error) {
	papers, err := o.papers(scratch)
	if err != nil {
		return nil, err
	}
	deploy := func(name string) string { return filepath.Join(o.Deploy, name) }
	const doc = "/usr/share/doc/flitch/"
	list := files.Contents{
		o.file(o.Binary, "/usr/bin/flitch", 0o755),
		o.file(deploy("flitch.service"), "/usr/lib/systemd/system/flitch.service", 0o644),
		o.file(deploy("package/package.conf"), "/usr/lib/systemd/system/flitch.service.d/package.conf", 0o644),
		o.file(papers.copyright, doc+"copyright", 0o644),
		o.file(papers.changelog, doc+"changelog.gz", 0o644),
		o.file(deploy("mosquitto-flitch.conf"), doc+"examples/mosquitto-flitch.conf", 0o644),
		o.file(deploy("prometheus/flitch.rules.yml"), doc+"examples/flitch.rules.yml", 0o644),
		o.file(deploy("prometheus/dashboard.json"), doc+"examples/dashboard.json", 0o644),
	}
	config := o.file(papers.config, "/etc/flitch/flitch.toml", 0o640)
	config.Type = files.TypeConfigNoReplace
	list = append(list, config)
	if o.SBOM != "" {
		list = append(list, o.file(o.SBOM, doc+filepath.Base(o.SBOM), 0o644))
	}
	return list, nil
}

func (o Order) file(from, to string, mode os.FileMode) *files.Content {
	return &files.Content{Source: from, Destination: to, FileInfo: &files.ContentFileInfo{Owner: "root", Group: "root", Mode: mode, MTime: o.Time}}
}

// written are the paths of what is made for the package.
type written struct{ config, copyright, changelog string }

func (o Order) papers(scratch string) (w written, err error) {
	config := o.Config
	if config == nil {
		if config, err = o.sample(); err != nil {
			return w, err
		}
	}
	copyright, err := o.copyright()
	if err != nil {
		return w, err
	}
	changelog, err := packed(filepath.Join(o.Deploy, "CHANGELOG.md"))
	if err != nil {
		return w, err
	}
	w = written{filepath.Join(scratch, "flitch.toml"), filepath.Join(scratch, "copyright"), filepath.Join(scratch, "changelog.gz")}
	return w, errors.Join(os.WriteFile(w.config, config, 0o600), os.WriteFile(w.copyright, copyright, 0o600), os.WriteFile(w.changelog, changelog, 0o600))
}

// sample is the configuration of flitch init, with its database where a service has it.
func (o Order) sample() ([]byte, error) {
	text, err := os.ReadFile(filepath.Join(o.Deploy, "../cmd/flitch/internal/config/sample.toml"))
	if err != nil {
		return nil, err
	}
	for from, to := range map[string]string{`"@NAME@"`: `"My larder"`, `database = "flitch.db" `: `database = "/var/lib/flitch/flitch.db" `} {
		if bytes.Count(text, []byte(from)) != 1 {
			return nil, fmt.Errorf("the sample has not one %s", from)
		}
		text = bytes.Replace(text, []byte(from), []byte(to), 1)
	}
	return text, nil
}

// packed compresses a file without a name or a time in it.
func packed(path string) ([]byte, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	_, err = z.Write(text)
	err = errors.Join(err, z.Close())
	return out.Bytes(), err
}
