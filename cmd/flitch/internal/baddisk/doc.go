// Package baddisk has tests only: the built binary, as a process of its own, on disks
// that lose their power, fill up, cannot be written, take seconds, or are damaged. They
// need root: file systems of a few megabytes are mounted for them, and no other is touched.
package baddisk
