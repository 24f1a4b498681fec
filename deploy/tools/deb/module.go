package deb

import (
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
)

// moduleDir is where the source of a module of flitch lies, by the go command.
func moduleDir(deploy, path string) (string, error) {
	list := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", path)
	list.Dir = filepath.Join(deploy, "..")
	out, err := list.Output()
	if failed, ok := errors.AsType[*exec.ExitError](err); ok {
		return "", fmt.Errorf("%s: %w: %s", path, err, failed.Stderr)
	}
	if err != nil {
		return "", err
	}
	dir := strings.TrimSpace(string(out))
	if dir == "" {
		return "", fmt.Errorf("%s: its source is not here: go mod download", path)
	}
	return dir, nil
}
