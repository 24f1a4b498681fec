//go:build !amd64

package killpoint

// olderCalls: there are none.
var olderCalls = map[uint64]shape{}
