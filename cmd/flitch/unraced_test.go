//go:build !race

package main

// stormMost is the memory that a storm of reconnects may take, MiB: 103 were measured. Proposal.
const stormMost = 160
