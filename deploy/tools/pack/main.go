// Command pack makes a Debian package of a binary: see deploy/package.sh.
package main

import (
	"flag"
	"fmt"
	"os"
	"time"

	"flitch/deploy/tools/deb"
)

func main() {
	o := deb.Order{Deploy: ".."}
	flag.StringVar(&o.Binary, "binary", "", "`path` of the binary")
	flag.StringVar(&o.Arch, "arch", "", "amd64, arm64 or armv7")
	flag.StringVar(&o.Version, "version", "", "as 1.2.3")
	flag.StringVar(&o.Out, "out", "", "`folder` for the package")
	flag.StringVar(&o.SBOM, "sbom", "", "`path` of a bill of materials to pack, too")
	flag.Parse()
	path, err := pack(o)
	if err != nil {
		fmt.Fprintln(os.Stderr, "pack:", err)
		os.Exit(1)
	}
	fmt.Println(path)
}

// pack dates every file by one day: the same source gives the same bytes whenever it is packed.
func pack(o deb.Order) (string, error) {
	if o.Binary == "" || o.Version == "" || o.Out == "" {
		return "", fmt.Errorf("say -binary, -arch, -version and -out")
	}
	o.Time = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	return deb.Write(o)
}
