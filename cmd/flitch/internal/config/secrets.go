package config

import (
	"errors"
	"fmt"
	"io/fs"
)

// secret reads name_file or name_env. A secret is never written in the file
// itself: the file is shown, copied and put into mails for help.
func (t *table) secret(name string, needed bool) Secret {
	if _, plain := t.get(name); plain {
		hint := fmt.Sprintf("%s_file = %q", name, "secrets/"+name)
		t.problem(name, "", "a secret is not written in this file", hint)
		needed = false
	}
	return t.sealedText(name, needed)
}

// sealedText reads name_file or name_env.
func (t *table) sealedText(name string, needed bool) Secret {
	file, env := t.text(name+"_file"), t.text(name+"_env")
	hint := fmt.Sprintf("%s_file = %q", name, "secrets/"+name)
	switch {
	case t.values[name+"_file"] == "" || t.values[name+"_env"] == "":
		t.problem(name+"_file", "", "is empty", hint)
	case file != "" && env != "":
		t.problem(name+"_env", env, fmt.Sprintf("and %s_file are both given", name), "one of the two")
	case file != "":
		return t.secretFile(name, file)
	case env != "":
		return t.secretEnv(name, env)
	case needed && !t.has(name+"_file") && !t.has(name+"_env"):
		t.missing(name+"_file", hint)
	}
	return Secret{}
}

func (t *table) secretFile(name, file string) Secret {
	key := name + "_file"
	path := t.doc.resolve(file)
	hint := fmt.Sprintf("%s = %q, with the %s alone in that file", key, file, name)
	data, err := t.doc.vault.file(path)
	if err != nil {
		t.problem(key, file, fmt.Sprintf("%s cannot be read: %s", path, reason(err)), hint)
		return Secret{}
	}
	return t.sealed(key, path, string(data), hint)
}

func (t *table) secretEnv(name, variable string) Secret {
	key := name + "_env"
	hint := fmt.Sprintf("%s=... in the environment of the daemon", variable)
	text, ok := t.doc.vault.lookup(variable)
	if !ok {
		t.problem(key, variable, fmt.Sprintf("%s is not set", variable), hint)
		return Secret{}
	}
	return t.sealed(key, variable, text, hint)
}

func (t *table) sealed(key, source, raw, hint string) Secret {
	text, wrong := oneLine(raw)
	if wrong != "" {
		t.problem(key, source, source+" "+wrong, hint)
		return Secret{}
	}
	return NewSecret(text)
}

// reason is the part of a file error that is the same on every machine.
func reason(err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "no such file"
	case errors.Is(err, fs.ErrPermission):
		return "not allowed"
	}
	return err.Error()
}
