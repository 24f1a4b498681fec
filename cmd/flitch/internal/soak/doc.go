// Package soak holds only tests: the built binary for an hour under all that a shop does, three
// simulated days at speed, a year in the database, a month of two hundred probes. What they
// measure is judged flat or not by one judge, which is shown to find a leak.
//
// With go test they run short; deploy/soak.sh runs them long.
package soak
