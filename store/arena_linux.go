package store

/*
#include <malloc.h>

static void one_arena(void) {
#ifdef __GLIBC__
	mallopt(M_ARENA_MAX, 1);
#endif
}
*/
import "C"

import "sync"

// oneArena lets the C library serve SQLite from one heap. By itself it gives each thread another,
// and Go lets a connection wander from thread to thread: each heap then grows until it could hold
// the caches of all connections. Measured in an hour: 12 MiB in seven heaps and rising, for 4 MiB
// that are used. It has to be called before the first connection.
var oneArena = sync.OnceFunc(func() { C.one_arena() })
