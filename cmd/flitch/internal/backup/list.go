package backup

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// List returns the whole copies of a folder, the newest first. A folder that is not there
// has none.
func List(folder string) ([]Copy, error) {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("backup: %w", err)
	}
	var all []Copy
	for _, e := range entries {
		text, ours := strings.CutPrefix(e.Name(), prefix)
		at, err := time.Parse(stamp, text)
		if ours && err == nil && e.IsDir() {
			all = append(all, Copy{filepath.Join(folder, e.Name()), at})
		}
	}
	slices.SortFunc(all, func(a, b Copy) int { return b.At.Compare(a.At) })
	return all, nil
}

// Thin removes all copies but the newest, of which it keeps so many, at least one, and the one
// that was just made: by a clock that is not set it looks older than those on the stick.
func Thin(folder string, keep int, made Copy) (removed int, err error) {
	all, err := List(folder)
	if err != nil {
		return 0, err
	}
	for _, c := range all[min(max(keep, 1), len(all)):] {
		if c.Folder == made.Folder {
			continue
		}
		// Renamed first: half a copy must not look like one.
		gone := c.Folder + unready
		if err := errors.Join(os.Rename(c.Folder, gone), os.RemoveAll(gone)); err != nil {
			return removed, fmt.Errorf("backup: %w", err)
		}
		removed++
	}
	return removed, nil
}
