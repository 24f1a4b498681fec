// Package killpoint kills a program at a chosen point: before the n-th thing it does that
// anybody outside could ever see. For tests only.
//
// A SIGKILL leaves behind what the kernel was told, and nothing else. So the program runs
// as it is, under ptrace, with a seccomp filter that stops it before each call that
// changes a file or sends something: write, fsync, truncate, rename, remove and their
// like. Two kills between the same two calls leave the same disk and the same peers. Who
// counts n up from 1 until a run ends without being killed has tried every one.
//
// What happens outside belongs to the same count: a peer that wraps a phone or a sensor
// calls Here when it has a message and has not answered yet. A driver that is wrapped in
// the program calls Mark before a statement or a commit.
package killpoint
