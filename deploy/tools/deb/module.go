package deb

import (
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
)

// moduleDirs is where the sources of modules of flitch lie, by the go command.
func moduleDirs(deploy string, modules []string) (map[string]string, error) {
	list := exec.Command("go", append([]string{"list", "-m", "-f", "{{.Path}}\t{{.Dir}}"}, modules...)...)
	list.Dir = filepath.Join(deploy, "..")
	out, err := list.Output()
	if failed, ok := errors.AsType[*exec.ExitError](err); ok {
		return nil, fmt.Errorf("go list: %w: %s", err, failed.Stderr)
	}
	if err != nil {
		return nil, err
	}
	dirs := map[string]string{}
	for line := range strings.Lines(string(out)) {
		path, dir, _ := strings.Cut(strings.TrimSpace(line), "\t")
		if dir == "" {
			return nil, fmt.Errorf("%s: its source is not here: go mod download", path)
		}
		dirs[path] = dir
	}
	return dirs, nil
}
