//go:build race

package main

// stormMost is the memory that a storm of reconnects may take, MiB: the race detector takes
// several times what the program does (go.dev/doc/articles/race_detector).
const stormMost = 450
