package store

/*
#ifdef __linux__
#include <malloc.h>
#endif

// Before main and before any thread: the C library asks once.
__attribute__((constructor)) static void one_heap(void) {
#ifdef __GLIBC__
	mallopt(M_ARENA_MAX, 1);
#endif
}
*/
import "C"

// SQLite is served from one heap of the C library. By itself that gives each thread another, and Go
// lets a connection wander from thread to thread: each heap then grows until it could hold the
// caches of all connections. Measured in an hour: 12 MiB in seven heaps and rising, for 4 MiB that
// are used.
