package deb

import (
	"bytes"
	"debug/buildinfo"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// bare are modules that came without a file of their licence, and what is known of it. Any
// other stops the packing.
var bare = map[string]string{
	"github.com/yeqown/reedsolomon": "No file with a licence came with this version. It is a part of go-qrcode (above), of the same makers, which is under the MIT licence.",
}

// copyright is our own lines and the licence of each module in the binary, as it came.
func (o Order) copyright() ([]byte, error) {
	head, err := os.ReadFile(filepath.Join(o.Deploy, "package/copyright"))
	if err != nil {
		return nil, err
	}
	info, err := buildinfo.ReadFile(o.Binary)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", o.Binary, err)
	}
	out := bytes.NewBuffer(head)
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		dir, err := moduleDir(o.Deploy, m.Path)
		if err != nil {
			return nil, err
		}
		if err := licences(out, m.Path+" "+m.Version, dir); err != nil {
			return nil, err
		}
	}
	return out.Bytes(), nil
}

// licences appends the licence and notice files of one module, of which it has to have one.
func licences(out io.Writer, module, dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	found := false
	for _, e := range entries {
		upper := strings.ToUpper(e.Name())
		isOne := strings.HasPrefix(upper, "LICEN") || strings.HasPrefix(upper, "COPYING") || strings.HasPrefix(upper, "NOTICE")
		if !isOne || !e.Type().IsRegular() || strings.HasSuffix(upper, ".GO") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		found = true
		fmt.Fprintf(out, "\n== %s, %s\n\n%s\n", module, e.Name(), text)
	}
	if reason, known := bare[strings.Fields(module)[0]]; !found && known {
		fmt.Fprintf(out, "\n== %s\n\n%s\n", module, reason)
		return nil
	}
	if !found {
		return fmt.Errorf("%s has no file with its licence: ask its makers before it is handed out", module)
	}
	return nil
}
