package web

import (
	"embed"
	"fmt"
	"io/fs"

	"github.com/pelletier/go-toml/v2"
)

//go:embed english/*.toml
var english embed.FS

// texts are all English texts of the page, by key. Only read.
var texts = collect(english)

// text returns an English text of the page. A key that is not there is an error, so
// that a test finds it and no person does.
func text(key string, args ...any) (string, error) {
	t, ok := texts[key]
	if !ok {
		return "", fmt.Errorf("no text is called %q", key)
	}
	return fmt.Sprintf(t, args...), nil
}

// collect reads every file of texts. They are part of the program, so one that cannot be
// read, or a key that is there twice, ends it before it begins.
func collect(files fs.FS) map[string]string {
	all := map[string]string{}
	names, err := fs.Glob(files, "english/*.toml")
	if err != nil || len(names) == 0 {
		panic(fmt.Sprintf("no texts: %v", err))
	}
	for _, name := range names {
		content, err := fs.ReadFile(files, name)
		if err != nil {
			panic(err)
		}
		some := map[string]string{}
		if err := toml.Unmarshal(content, &some); err != nil {
			panic(fmt.Sprintf("%s: %v", name, err))
		}
		for key, t := range some {
			if _, twice := all[key]; twice {
				panic(fmt.Sprintf("%s: %q is there twice", name, key))
			}
			all[key] = t
		}
	}
	return all
}
