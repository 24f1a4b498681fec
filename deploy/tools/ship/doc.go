// Package ship holds the tests of what is handed out: the binaries for other machines, the
// container and the Debian package. They build, install and run all of it; they need root,
// because they do so in a file system of their own, over that of the machine.
package ship
