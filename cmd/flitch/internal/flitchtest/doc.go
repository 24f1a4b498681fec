// Package flitchtest makes the binary and runs it as a process of its own, as people do. For tests
// only: what a test that links the daemon cannot see (its start, its doors, its signals, its
// memory) is seen here.
package flitchtest
