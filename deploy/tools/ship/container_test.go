package ship

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/moby/buildkit/frontend/dockerfile/instructions"
	"github.com/moby/buildkit/frontend/dockerfile/parser"
)

// stages reads the Containerfile by the library of the engine that builds it.
func stages(t *testing.T) []instructions.Stage {
	t.Helper()
	file, err := os.Open(filepath.Join(deploy, "Containerfile"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	parsed, err := parser.Parse(file)
	if err != nil {
		t.Fatal(err)
	}
	if len(parsed.Warnings) > 0 {
		t.Errorf("warnings: %v", parsed.Warnings)
	}
	list, _, err := instructions.Parse(parsed.AST, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != 2 || list[0].Name != "build" || list[1].BaseName != "scratch" {
		t.Fatalf("%d stages, want build and one from scratch", len(list))
	}
	return list
}

// An image is what the last stage says of itself.
type image struct {
	root       string // folder, as the engine would unpack it
	user       uint32
	dir        string
	volume     string
	entry, cmd []string
	health     []string
	ports      []string
}

// contained runs a command of the image as an engine does that was told read_only and tmpfs:
// in its root, as its user, with nothing else there.
func (i *image) contained(args ...string) *exec.Cmd {
	return &exec.Cmd{
		Path: args[0], Args: args, Dir: i.dir, Env: []string{"PATH=/"},
		SysProcAttr: &syscall.SysProcAttr{Chroot: i.root, Credential: &syscall.Credential{Uid: i.user, Gid: i.user}},
	}
}

// theImage goes through the Containerfile without an engine: the lines of the first stage run
// in a root of their own, with only what is copied there; then what the second takes.
func theImage(t *testing.T) *image {
	t.Helper()
	both := stages(t)
	root := machine(t)
	firstStage(t, root, both[0])
	i := &image{root: t.TempDir()}
	for _, command := range both[1].Commands {
		i.take(t, root, command)
	}
	return i
}

// firstStage runs what the build stage says.
func firstStage(t *testing.T, root string, stage instructions.Stage) {
	t.Helper()
	if !regexp.MustCompile(`^golang:1\.\d+$`).MatchString(stage.BaseName) || !strings.Contains(read(t, source, "go.mod"), "\ngo "+strings.TrimPrefix(stage.BaseName, "golang:")) {
		t.Errorf("it is built from %s, go.mod names another Go", stage.BaseName)
	}
	for _, name := range []string{"GOCACHE", "GOMODCACHE"} { // as a machine that has built it before
		dir := strings.TrimSpace(output(t, exec.Command("go", "env", name)))
		mount(t, dir, filepath.Join(root, dir), "", syscall.MS_BIND, "")
	}
	workdir, env := "/", []string(nil)
	for _, command := range stage.Commands {
		switch c := command.(type) {
		case *instructions.WorkdirCommand:
			workdir = c.Path
			if err := os.MkdirAll(filepath.Join(root, workdir), 0o755); err != nil {
				t.Fatal(err)
			}
		case *instructions.ArgCommand:
			for _, a := range c.Args {
				env = append(env, a.Key+"="+version) // --build-arg VERSION=...
			}
		case *instructions.CopyCommand:
			for _, from := range c.SourcePaths {
				copyIn(t, from, filepath.Join(root, workdir, c.DestPath), len(c.SourcePaths) > 1)
			}
		case *instructions.RunCommand:
			run := within(root, "cd "+workdir+" && "+strings.Join(c.CmdLine, " "))
			run.Env = append(append(run.Env, env...), "GOFLAGS=", "GOPROXY="+strings.TrimSpace(output(t, exec.Command("go", "env", "GOPROXY"))))
			output(t, run)
		default:
			t.Errorf("the test does not know %s", command.Name())
		}
	}
}

// copyIn copies of the source what COPY names; several go into a folder, one becomes it.
func copyIn(t *testing.T, from, to string, several bool) {
	t.Helper()
	path := filepath.Join(source, from)
	info, err := os.Stat(path)
	if err != nil {
		t.Fatalf("COPY %s: %v", from, err)
	}
	if several {
		to = filepath.Join(to, filepath.Base(from))
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		t.Fatal(err)
	}
	if info.IsDir() {
		err = os.CopyFS(to, os.DirFS(path))
	} else {
		err = exec.Command("cp", path, to).Run()
	}
	if err != nil {
		t.Fatalf("COPY %s: %v", from, err)
	}
}

// take does one line of the last stage.
func (i *image) take(t *testing.T, built string, command instructions.Command) {
	t.Helper()
	switch c := command.(type) {
	case *instructions.CopyCommand:
		if c.From != "build" || len(c.SourcePaths) != 1 {
			t.Fatalf("COPY %v: want one thing from the build stage", c.SourcePaths)
		}
		to := filepath.Join(i.root, c.DestPath)
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			t.Fatal(err)
		}
		output(t, exec.Command("cp", "-r", filepath.Join(built, c.SourcePaths[0]), to))
		if c.Chown != "" {
			output(t, exec.Command("chown", "-R", c.Chown, to))
		}
	case *instructions.UserCommand:
		uid, gid, _ := strings.Cut(c.User, ":")
		n, err := strconv.ParseUint(uid, 10, 32)
		if err != nil || n == 0 || uid != gid {
			t.Fatalf("USER %s: want one number twice, that is not root's", c.User)
		}
		i.user = uint32(n)
	case *instructions.WorkdirCommand:
		i.dir = c.Path
	case *instructions.VolumeCommand:
		i.volume = c.Volumes[0]
	case *instructions.ExposeCommand:
		i.ports = c.Ports
	case *instructions.HealthCheckCommand:
		if c.Health.Test[0] != "CMD" {
			t.Fatalf("HEALTHCHECK %v needs a shell, which is not there", c.Health.Test)
		}
		i.health = c.Health.Test[1:]
	case *instructions.EntrypointCommand:
		i.entry = c.CmdLine
		if c.PrependShell {
			t.Error("ENTRYPOINT needs a shell, which is not there")
		}
	case *instructions.CmdCommand:
		i.cmd = c.CmdLine
	default:
		t.Errorf("the test does not know %s", command.Name())
	}
}

// runs puts the image under what compose.yaml says: read-only, a volume, a /tmp in memory.
func (i *image) runs(t *testing.T) {
	t.Helper()
	larder := t.TempDir()
	output(t, exec.Command("chown", fmt.Sprintf("%d:%d", i.user, i.user), larder))
	if err := os.MkdirAll(filepath.Join(i.root, "tmp"), 0o755); err != nil {
		t.Fatal(err)
	}
	mount(t, i.root, i.root, "", syscall.MS_BIND, "")
	if err := syscall.Mount(i.root, i.root, "", syscall.MS_REMOUNT|syscall.MS_BIND|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	mount(t, larder, filepath.Join(i.root, i.volume), "", syscall.MS_BIND, "")
	mount(t, "tmp", filepath.Join(i.root, "tmp"), "tmpfs", 0, "size=64m")
}

// TestTheContainer builds it, and lives in it: a person sets it up by the lines of
// compose.yaml, a sensor publishes, the engine asks for its health and ends it.
func TestTheContainer(t *testing.T) {
	i := theImage(t)
	if ours, theirs := read(t, i.root, "flitch"), read(t, built, own, "flitch"); ours != theirs {
		t.Error("built from another folder it has other bytes")
	}
	if want := samplePorts(t); !slices.Equal(i.ports, want) {
		t.Errorf("EXPOSE %v, the sample listens on %v", i.ports, want)
	}
	onlyThese(t, i.root, "etc/ssl/certs/ca-certificates.crt", "flitch")
	i.runs(t)
	fails(t, i.contained("/flitch", "init", "/elsewhere"), "read-only file system")

	set := composed(t) // init and check, as its head says
	output(t, i.contained(append(slices.Clone(i.entry), set["init"]...)...))
	config := filepath.Join(i.root, i.volume, "flitch.toml")
	elsewhere(t, config)
	zoned(t, config)
	output(t, i.contained(append(slices.Clone(i.entry), set["check"]...)...))

	fails(t, i.contained(i.health...), "no answer")
	d := start(t, i.contained(append(slices.Clone(i.entry), i.cmd...)...))
	output(t, i.contained(i.health...))
	d.publish()
	output(t, i.contained(set["batch"]...))
	d.stop()
	fails(t, i.contained(i.health...), "no answer")
	said := output(t, i.contained("/flitch", "backup", "--config", "/larder/flitch.toml", "--to", "/larder/copies"))
	if !strings.Contains(said, "whole: 1 reading,") {
		t.Errorf("after a reading: %s", said)
	}
}

// zoned puts the site into a zone whose times only the binary itself can know here.
func zoned(t *testing.T, config string) {
	t.Helper()
	text := read(t, config)
	write(t, config, strings.Replace(text, `zone = "UTC" `, `zone = "Pacific/Chatham" `, 1))
}

// samplePorts are the ports that the sample listens on.
func samplePorts(t *testing.T) (list []string) {
	t.Helper()
	for _, m := range ports.FindAllStringSubmatch(read(t, source, "cmd/flitch/internal/config/sample.toml"), -1) {
		list = append(list, m[2])
	}
	slices.Sort(list)
	return list
}

// onlyThese wants no other files under a folder.
func onlyThese(t *testing.T, root string, want ...string) {
	t.Helper()
	out := output(t, exec.Command("find", root, "-type", "f", "-printf", "%P\n"))
	got := strings.Fields(out)
	slices.Sort(got)
	if !slices.Equal(got, want) {
		t.Errorf("the image holds %v, want %v", got, want)
	}
}

// TestAContainerfileWithAMistakeIsSeen: the parser is not so kind that nothing fails.
func TestAContainerfileWithAMistakeIsSeen(t *testing.T) {
	text := read(t, deploy, "Containerfile")
	for _, wrong := range []string{strings.Replace(text, "\nUSER ", "\nUSSER ", 1), strings.Replace(text, "FROM scratch", "FROM", 1)} {
		parsed, err := parser.Parse(bytes.NewReader([]byte(wrong)))
		if err == nil {
			_, _, err = instructions.Parse(parsed.AST, nil)
		}
		if err == nil {
			t.Error("a mistake was not seen")
		}
	}
}
