package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"

	"flitch/cmd/flitch/internal/keyfile"
)

type recordCommand struct {
	batchName
	daemonFlags
	Format string `help:"csv (every reading), xlsx, pdf, html, json, or proof: what flitch verify looks at." enum:"csv,xlsx,pdf,html,json,proof" default:"html"`
	For    string `help:"inspector (all of it), customer (a page without internals) or self (yield, hours, what rang)." enum:"inspector,customer,self" default:"inspector"`
	Paper  string `help:"Paper of a PDF: a4 or letter." enum:"a4,letter" default:"a4"`
	Out    string `help:"File to write; - is the terminal." default:"-" placeholder:"FILE"`
}

// Help shows an example.
func (recordCommand) Help() string {
	return "A file of that name is replaced.\n\nExample:\n\n    flitch record OL-31-04 --format pdf --out OL-31-04.pdf\n    flitch record OL-31-04 --format pdf --for customer --paper letter --out leaflet.pdf"
}

// Run fetches the record.
func (c recordCommand) Run(t terminal) error {
	path, err := c.path("/batches/")
	if err != nil {
		return err
	}
	if err := c.writable(); err != nil {
		return err
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), recordPatience)
	defer cancel()
	body, err := daemon.open(ctx, http.MethodGet, path+"/record."+c.Format+"?"+url.Values{"for": {c.For}, "paper": {c.Paper}}.Encode(), nil)
	if err != nil {
		return err
	}
	defer body.Close()
	if c.Out == "-" {
		_, err = io.Copy(t.out, body)
		return err
	}
	if err := c.write(body); err != nil {
		return problem("--out with a file in a folder that is there and has room", "writing the record: %v", err)
	}
	_, err = fmt.Fprintln(t.out, "wrote", c.Out)
	return err
}

// write replaces a file when the record is whole. A device or a pipe that is there is written to,
// and not replaced; a file at the end of a link, and not the link.
func (c recordCommand) write(body io.Reader) error {
	to := c.Out
	if real, err := filepath.EvalSymlinks(to); err == nil {
		to = real
	}
	if info, err := os.Stat(c.Out); err != nil || info.Mode().IsRegular() {
		return keyfile.WriteFrom(to, body, 0o644)
	}
	out, err := os.OpenFile(c.Out, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, body)
	return errors.Join(err, out.Close())
}

// writable complains about a file that cannot be one, before anything is asked for.
func (c recordCommand) writable() error {
	if c.Out == "-" {
		return nil
	}
	name := string(c.Batch) + "." + c.Format
	if info, err := os.Stat(c.Out); err == nil && info.IsDir() {
		return problem("--out "+filepath.Join(c.Out, name), "writing the record: %s is a folder", c.Out)
	}
	if info, err := os.Stat(filepath.Dir(c.Out)); err != nil || !info.IsDir() {
		return problem("--out "+name+", or a folder that is there", "writing the record: there is no folder %s", filepath.Dir(c.Out))
	}
	return nil
}
