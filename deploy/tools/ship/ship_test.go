package ship

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"
)

const (
	source  = "../../.." // of flitch
	deploy  = "../.."
	version = "1.2.3~test"
	reading = `{"temperature":3.4,"time":"%s"}`
	onTopic = "larder/alder/bottle" // of the sample's alder-bottle
)

// architectures are those that binaries are made for, and what runs them elsewhere.
var architectures = map[string]string{"amd64": "qemu-x86_64", "arm64": "qemu-aarch64", "armv7": "qemu-arm"}

// own is this machine's name among them.
var own = map[string]string{"amd64": "amd64", "arm64": "arm64", "arm": "armv7"}[runtime.GOARCH]

var built string // folder of the binaries

// TestMain makes the binaries once for all tests.
func TestMain(m *testing.M) { os.Exit(buildAndRun(m)) }

func buildAndRun(m *testing.M) int {
	if os.Getuid() != 0 {
		fmt.Println("these tests mount and change root: run them as root")
		return 1
	}
	dir, err := os.MkdirTemp("", "ship")
	if err != nil {
		fmt.Println(err)
		return 1
	}
	defer os.RemoveAll(dir)
	built = dir
	began := time.Now()
	build := exec.Command("sh", filepath.Join(deploy, "build.sh"), built, "amd64", "arm64", "armv7")
	build.Env = append(os.Environ(), "FLITCH_VERSION="+version)
	if out, err := build.CombinedOutput(); err != nil {
		fmt.Printf("build.sh: %v\n%s", err, out)
		return 1
	}
	fmt.Printf("three binaries made in %s\n", time.Since(began).Round(time.Second))
	return m.Run()
}

// command is flitch of an architecture, by an emulator where it has to be.
func command(arch string, args ...string) *exec.Cmd {
	binary := filepath.Join(built, arch, "flitch")
	if arch == own {
		return exec.Command(binary, args...)
	}
	return exec.Command(architectures[arch], append([]string{binary}, args...)...)
}

// output runs a command and wants it to end well.
func output(t *testing.T, c *exec.Cmd) string {
	t.Helper()
	var said bytes.Buffer
	c.Stderr = &said
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s%s", strings.Join(c.Args, " "), err, out, said.String())
	}
	return string(out)
}

// fails runs a command and wants it to end badly, with these words.
func fails(t *testing.T, c *exec.Cmd, words string) {
	t.Helper()
	out, err := c.CombinedOutput()
	if err == nil || !strings.Contains(string(out), words) {
		t.Errorf("%s: %v, %q; want an error with %q", strings.Join(c.Args, " "), err, out, words)
	}
}

// read is the text of a file.
func read(t *testing.T, path ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// freePort is a port nobody has at the moment.
func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, port, _ := net.SplitHostPort(l.Addr().String())
	return port
}

var ports = regexp.MustCompile(`(?m)^(listen = "127\.0\.0\.1):(8411|1883)"`)

// elsewhere gives the two listeners of a sample free ports, keeping length and owner of the file.
func elsewhere(t *testing.T, path string) {
	t.Helper()
	text := read(t, path)
	if n := len(ports.FindAllString(text, -1)); n != 2 {
		t.Fatalf("%s has %d listeners, want 2", path, n)
	}
	write(t, path, ports.ReplaceAllStringFunc(text, func(line string) string {
		return ports.ReplaceAllString(line, `$1:`+freePort(t)+`"`)
	}))
}
