package ship

import (
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/compose-spec/compose-go/v2/cli"
	"github.com/compose-spec/compose-go/v2/types"
)

// project reads compose.yaml by its own library, with a larder and some profiles.
func project(t *testing.T, profiles ...string) *types.Project {
	t.Helper()
	options, err := cli.NewProjectOptions([]string{filepath.Join(deploy, "compose.yaml")}, cli.WithProfiles(profiles), cli.WithEnv([]string{"FLITCH_LARDER=/srv/larder"}))
	if err != nil {
		t.Fatal(err)
	}
	p, err := options.LoadProject(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestComposeIsAsTheContainerfile(t *testing.T) {
	p := project(t)
	if names := p.ServiceNames(); !slices.Equal(names, []string{"flitch"}) {
		t.Errorf("without a profile it starts %v, want flitch alone", names)
	}
	s := p.Services["flitch"]
	image := &image{root: t.TempDir()}
	for _, command := range stages(t)[1].Commands {
		if command.Name() != "COPY" {
			image.take(t, "", command)
		}
	}
	switch {
	case s.HealthCheck == nil || !slices.Equal(s.HealthCheck.Test, append(types.HealthCheckTest{"CMD"}, image.health...)):
		t.Errorf("healthcheck %+v, the Containerfile has %v", s.HealthCheck, image.health)
	case s.User != "65532:65532" || image.user != 65532:
		t.Errorf("user %s, the Containerfile has %d", s.User, image.user)
	case !s.ReadOnly || !slices.Equal(s.CapDrop, []string{"ALL"}) || !slices.Equal(s.SecurityOpt, []string{"no-new-privileges:true"}) || s.Privileged:
		t.Errorf("it may do more than it needs: %+v", s)
	case len(s.Volumes) != 1 || s.Volumes[0].Target != image.volume || s.Volumes[0].Source != "/srv/larder" || !slices.Equal(s.Tmpfs, types.StringList{"/tmp"}):
		t.Errorf("volumes %+v, tmpfs %v", s.Volumes, s.Tmpfs)
	case s.NetworkMode != "host" || len(s.Ports) > 0:
		t.Errorf("network %s, ports %v: ports of the host's network are not published", s.NetworkMode, s.Ports)
	case s.StopGracePeriod == nil || time.Duration(*s.StopGracePeriod) < 30*time.Second:
		t.Errorf("it is given %v to end", s.StopGracePeriod)
	case s.Build == nil || filepath.Join(s.Build.Context, s.Build.Dockerfile) != absolute(t, filepath.Join(deploy, "Containerfile")):
		t.Errorf("built by %+v", s.Build)
	}
}

// A shell that does not know where the house is changes nothing: an empty folder in its place would
// be a flitch that does not start.
func TestComposeWithoutAHouseIsRefused(t *testing.T) {
	options, err := cli.NewProjectOptions([]string{filepath.Join(deploy, "compose.yaml")})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := options.LoadProject(t.Context()); err == nil || !strings.Contains(err.Error(), "export FLITCH_LARDER=") {
		t.Errorf("without a folder: %v", err)
	}
}

func absolute(t *testing.T, path string) string {
	t.Helper()
	path, err := filepath.Abs(path)
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// composed are the commands of flitch in the head of compose.yaml, by their first word.
func composed(t *testing.T) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	line := regexp.MustCompile(`(?m)^#   docker compose -f deploy/compose.yaml (?:run --rm flitch|exec flitch) (.*)$`)
	for _, m := range line.FindAllStringSubmatch(read(t, deploy, "compose.yaml"), -1) {
		words := strings.Fields(strings.ReplaceAll(m[1], `"Oddwick Lane Larder"`, "Larder"))
		name := words[0] // run goes through the entrypoint, exec does not
		if name == "/flitch" {
			name = words[1]
		}
		found[name] = words
	}
	for _, name := range []string{"init", "check", "batch"} {
		if found[name] == nil {
			t.Fatalf("compose.yaml does not say how to %s", name)
		}
	}
	return found
}

// TestTheMosquittoOfCompose runs it by its files and asks for its health.
func TestTheMosquittoOfCompose(t *testing.T) {
	p := project(t, "mosquitto")
	s, ok := p.Services["mosquitto"]
	if !ok || len(p.Services) != 2 {
		t.Fatalf("with the profile it starts %v", p.ServiceNames())
	}
	dir := t.TempDir()
	data := filepath.Join(dir, "data")
	output(t, exec.Command("install", "-d", "-m", "777", data, filepath.Join(dir, "config/conf.d")))
	port := freePort(t)
	for _, v := range s.Volumes {
		if v.Type != "bind" {
			continue
		}
		text := strings.ReplaceAll(read(t, v.Source), "/mosquitto/", dir+"/")
		text = strings.Replace(text, "\nlistener 1883 ", "\nlistener "+port+" ", 1)
		write(t, filepath.Join(dir, strings.TrimPrefix(v.Target, "/mosquitto/")), text)
	}
	output(t, exec.Command("chmod", "-R", "a+rX", filepath.Dir(dir)))
	broker := exec.Command("mosquitto", "-c", filepath.Join(dir, "config/mosquitto.conf"))
	if err := broker.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = broker.Process.Kill(); _ = broker.Wait() })
	test := slices.Clone(s.HealthCheck.Test[1:])
	for i := range test {
		test[i] = strings.ReplaceAll(test[i], "$$", "$")
	}
	ask := append(test, "-p", port)
	var err error
	for until := time.Now().Add(patience); time.Now().Before(until); {
		if err = exec.Command(ask[0], ask[1:]...).Run(); err == nil {
			return
		}
	}
	t.Errorf("%v: %v", ask, err)
}
