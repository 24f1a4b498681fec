// Package linktest is a bad line between two networks, for tests: packets on it are lost,
// doubled, late and out of their order, by a seeded chance, and it counts what it did. It needs
// no netem, which is not in every kernel, but the TUN device, root and iproute2. Nothing of it is
// left when the test ends, however it ends: the far network is a namespace without a name.
package linktest
